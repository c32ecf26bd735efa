"""A job as one file, to carry from store to store or to keep: a zip archive with a manifest.

`manifest.json` names the format and, for every other member, its size and SHA-256; `job.json` holds the job, `raw/...`
the bytes of its files. Nothing is ever unpacked to the disk, so no name in an archive can lead anywhere.
"""

from __future__ import annotations

import json
import zipfile
import zlib
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pulsewright import __version__
from pulsewright.errors import InputError
from pulsewright.many.whole_file import whole_file
from pulsewright.records.database import Database
from pulsewright.records.job_file import SHA256, JobFile, insert_job_file, read_job_file
from pulsewright.records.job_rows import Job
from pulsewright.records.raw_files import fingerprint
from pulsewright.records.tables import now

FORMAT = "pulsewright job file 1"
MANIFEST, JOB = "manifest.json", "job.json"
ENDING = ".pulsewright"
LARGEST_UNPACKED = 512 * 1024 * 1024  # [byte] of all members; a day of pulls is under 20 MB
LARGEST_MANIFEST = 4 * 1024 * 1024  # [byte]
MOST_MEMBERS = 5000
AGAIN = "save or export the job again, and copy the file whole"


class _Member(BaseModel):
    model_config = ConfigDict(extra="forbid")

    sha256: str = Field(pattern=SHA256)
    bytes: int = Field(ge=0, le=LARGEST_UNPACKED)


class _Manifest(BaseModel):
    model_config = ConfigDict(extra="forbid")

    format: str
    made: str
    by: str
    members: dict[str, _Member]


class Carrying(Database):
    """What can be done with files of jobs."""

    def export_job(self, id: int, path: Path) -> Path:
        """Write a job with all that belongs to it into one file, whole or not at all; the path of the file.

        path : a file, replaced where it is there, or a folder, where the file gets the job's number.
        """
        with self.reading() as connection:
            data, raw = read_job_file(connection, id)
        path = path / f"job-{id}{ENDING}" if path.is_dir() else path
        job = json.dumps(data.model_dump(mode="json"), indent=1, allow_nan=False).encode()  # any character, as ASCII
        members = {JOB: job, **{f"raw/{name}": each for name, each in raw.items()}}
        try:
            with whole_file(path) as draft, zipfile.ZipFile(draft, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr(MANIFEST, _manifest_of(members))
                for name, content in members.items():
                    archive.writestr(name, content)
        except OSError as error:
            raise InputError(
                f"cannot write the file of the job: {error.strerror}", where=str(path), hint="is the disk full?"
            ) from None
        return path

    def import_job(self, path: Path) -> Job:
        """A new job from a file that `export_job` wrote.

        Raises InputError where the file is damaged, was changed, is larger than any job, or is of a newer version;
        nothing is kept of it then.
        """
        try:
            with zipfile.ZipFile(path) as archive:
                members = _members_of(archive, str(path))
        except OSError as error:
            raise InputError(f"cannot read the file: {error.strerror}", where=str(path)) from None
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError):
            raise InputError("this is no file of a job, or it is damaged", where=str(path), hint=AGAIN) from None
        data = _checked_json(JobFile, members[JOB], str(path))
        raw = {name.removeprefix("raw/"): content for name, content in members.items() if name.startswith("raw/")}
        if set(data.fingerprints) != set(raw):
            raise InputError("the job and the files with it do not agree", where=str(path), hint=AGAIN)
        try:
            with self.writing() as connection:
                return insert_job_file(connection, data, raw)
        except InputError as error:
            where = f"{path}: {error.where}" if error.where else str(path)
            raise InputError(error.what, where=where, hint=error.hint) from None


def _manifest_of(members: dict[str, bytes]) -> str:
    rows = {name: {"sha256": fingerprint(content), "bytes": len(content)} for name, content in members.items()}
    return json.dumps(
        {"format": FORMAT, "made": now().isoformat(timespec="seconds"), "by": __version__, "members": rows}, indent=1
    )


def _members_of(archive: zipfile.ZipFile, where: str) -> dict[str, bytes]:
    """Every member that the manifest names, checked against it; nothing else may be there."""
    names = [info.filename for info in archive.infolist()]
    if len(names) > MOST_MEMBERS or len(set(names)) != len(names) or MANIFEST not in names:
        raise InputError("this is no file of a job", where=where, hint=AGAIN)
    manifest = _checked_json(_Manifest, _read(archive, MANIFEST, LARGEST_MANIFEST, where), where)
    if manifest.format != FORMAT:
        raise InputError(f"the format is '{manifest.format}', not '{FORMAT}'", where=where, hint="use a newer version")
    known = manifest.members
    strange = [name for name in known if name != JOB and name != f"raw/{known[name].sha256}"]
    if strange or JOB not in known or set(names) != {MANIFEST, *known}:
        raise InputError("the file holds something else than its manifest says", where=where, hint=AGAIN)
    if sum(member.bytes for member in known.values()) > LARGEST_UNPACKED:
        raise InputError(
            f"the file unpacks to more than {LARGEST_UNPACKED // 1024**2} MB, which is no job", where=where
        )
    return {name: _verified(archive, name, member, where) for name, member in known.items()}


def _verified(archive: zipfile.ZipFile, name: str, member: _Member, where: str) -> bytes:
    content = _read(archive, name, member.bytes, where)
    if len(content) != member.bytes or fingerprint(content) != member.sha256:
        raise InputError(f"'{name}' in the file is not what was exported", where=where, hint=AGAIN)
    return content


def _read(archive: zipfile.ZipFile, name: str, most: int, where: str) -> bytes:
    """A member, whose own word about its size is not believed."""
    with archive.open(name) as member:
        content = member.read(most + 1)
    if len(content) > most:
        raise InputError(f"'{name}' in the file is larger than it says", where=where, hint=AGAIN)
    return content


def _checked_json(form: type[Any], content: bytes, where: str) -> Any:
    try:
        return form.model_validate(json.loads(content, parse_constant=_no_number))
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(step) for step in first["loc"])
        raise InputError(f"the job in the file cannot be read: {place}: {first['msg']}", where=where) from None
    except (ValueError, RecursionError):
        raise InputError("the job in the file cannot be read", where=where, hint=AGAIN) from None


def _no_number(word: str) -> Any:
    raise ValueError(word)
