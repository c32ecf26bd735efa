"""A job written as a session folder, and a session folder taken in as a job.

The folder is made in the store's cache, whole or not at all, and named by what is in it: the same job gives the same
folder, and one that a computation reads is never changed under it.
"""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
import shutil
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pulsewright.bench.changes import toml_value
from pulsewright.bench.session import SESSION_FILE, Session, read_session
from pulsewright.bench.session_schema import SESSION_FORMAT
from pulsewright.bench.toml_file import parse_toml, read_text
from pulsewright.errors import InputError
from pulsewright.pulls.decoding import read_bytes
from pulsewright.records import side_files
from pulsewright.records.database import Database
from pulsewright.records.folders import cache_folder
from pulsewright.records.job_hashes import Hashes, hashes_of
from pulsewright.records.job_rows import Job, read_job, touch
from pulsewright.records.jobs import SETTINGS, insert_job
from pulsewright.records.pull_files import TIME, PullFile, insert_pull_file, read_pull_files
from pulsewright.records.raw_files import read_raw
from pulsewright.records.setups import SetupRow, current_setups, insert_setups
from pulsewright.records.texts import is_safe_file_name

LAID_OUT = "laid-out"  # folder of the store
OLD = 7 * 24 * 3600.0  # [s] after which a folder of a former state of a job is thrown away
SHEET = "setup.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOut:
    """A job as a session folder."""

    folder: Path
    hashes: Hashes  # of the job as it was written, for `keep_answer(made_from=...)`


class LayingOut(Database):
    """What can be done with session folders."""

    def lay_out(self, job: int) -> Path:
        """The session folder of a job as it now is."""
        return self.laid_out(job).folder

    def laid_out(self, job: int) -> LaidOut:
        """The session folder of a job as it now is, with the fingerprints of what is in it.

        Raises InputError where the folder cannot be written.
        """
        with self.reading() as connection:
            files = _files_of(connection, job)
            hashes = hashes_of(connection, job)
        name = hashlib.sha256(b"".join(_digest(path, data) for path, data in sorted(files.items()))).hexdigest()[:16]
        place = self.cache / name / f"job-{job}"
        try:
            _write(files, place)
        except OSError as error:
            full = error.errno in (errno.ENOSPC, errno.EDQUOT)
            raise InputError(
                f"cannot lay out the job to read it: {'the disk is full' if full else error.strerror}",
                where=str(place),
                hint="make room; what was kept is not lost" if full else "may this be written to?",
            ) from None
        return LaidOut(folder=place, hashes=hashes)

    def take_in(self, folder: Path | str) -> Job:
        """A new job from a session folder: sheets, changes, pulls with their bytes, and what is said of them.

        Raises InputError where the folder is no session.
        """
        session = read_session(folder)
        data, _ = parse_toml(read_text(session.folder / SESSION_FILE), str(session.folder), lines=False)
        title = session.machine or session.folder.resolve().name or "session"
        settings = {key: data[key] for key in SETTINGS if key in data}
        recipes = [_recipe(session, number) for number in range(len(session.pulls))]
        with self.writing() as connection:
            id = insert_job(connection, title, session.machine, session.complaint, settings)
            for name in _side_names(settings):
                side_files.put(connection, id, name, read_bytes(session.folder / name))
            insert_setups(connection, id, [_told(session.folder, entry) for entry in data["setup"]])
            for entry, recipe in zip(data.get("pull", []), recipes, strict=True):
                said = {key: value for key, value in entry.items() if key not in ("file", "setup")}
                raw = read_bytes(session.folder / entry["file"])
                insert_pull_file(connection, id, entry["setup"].strip(), entry["file"], raw, recipe, said)
            touch(connection, id)
            return read_job(connection, id)

    @property
    def cache(self) -> Path:
        """The folder of the session folders, which may be thrown away at any time."""
        if self.folder is not None and not self.read_only:
            return self.folder / LAID_OUT
        return cache_folder() / LAID_OUT / hashlib.sha256(self.place.encode()).hexdigest()[:12]


def _recipe(session: Session, number: int) -> dict[str, Any]:
    """How a pull of a session is read; empty where it cannot be, which is for the pages to say."""
    from pulsewright.pulls.read_pull import read_pulls
    from pulsewright.pulls.session_reading import session_reading

    entry = session.pulls[number]
    with suppress(InputError):
        return read_pulls(entry.file, reading=session_reading(session, entry))[0].recipe.as_json()
    return {}


def _side_names(settings: Mapping[str, Any]) -> list[str]:
    """Files in the session folder that its settings name."""
    logger = settings.get("logger", {})
    named = (settings.get("limits"), logger.get("mapping"), logger.get("coast_down"))
    return [name for name in dict.fromkeys(named) if name]


def _told(folder: Path, entry: dict[str, Any]) -> tuple[str, str | None, list[dict[str, Any]]]:
    """A setup of session.toml as `insert_setups` takes it."""
    sheet = entry.get("sheet")
    state = {
        "sheet_name": sheet,
        "sheet_text": read_text(folder / sheet) if sheet else None,
        "changes": entry.get("change", ()),
        "note": entry.get("note", ""),
    }
    return entry["name"], entry.get("based_on"), [state]


def _files_of(connection: Any, id: int) -> dict[str, bytes]:
    """Every file of the session folder by its path in it."""
    job, rows, pulls = read_job(connection, id), current_setups(connection, id), read_pull_files(connection, id)
    sheets, places = _sheet_names(rows), _pull_names(pulls)
    files = {SESSION_FILE: session_text(job, rows, pulls, sheets, places).encode()}
    files |= {sheets[row.name]: (row.sheet_text or "").encode() for row in rows if row.name in sheets}
    files |= {places[pull.id]: read_raw(connection, pull.sha256) for pull in pulls}
    fingerprints = side_files.fingerprints(connection, id)
    return files | {name: read_raw(connection, sha256) for name, sha256 in fingerprints.items()}


def _sheet_names(rows: list[SetupRow]) -> dict[str, str]:
    """A file for every setup that has a sheet of its own."""
    roots = [row.name for row in rows if row.based_on is None]
    return {name: SHEET if n == 1 else f"setup-{n}.toml" for n, name in enumerate(roots, 1)}


def _pull_names(pulls: list[PullFile]) -> dict[int, str]:
    """A path for every pull: the person's own name for the file where it is fit to be written to, else its number."""
    names: dict[str, str] = {}  # by fingerprint
    taken: set[str] = set()
    for pull in pulls:
        if pull.sha256 in names:
            continue
        name, own = pull.file_name, pull.file_name
        ending = Path(own).suffix if is_safe_file_name(f"x{Path(own).suffix}") else ".csv"
        if not is_safe_file_name(own) or own.casefold() in taken:
            name = f"{pull.number:02d}{ending}"
        while name.casefold() in taken:
            name = f"{pull.number:02d}-{pull.sha256[:12]}{ending}"
        taken.add(name.casefold())
        names[pull.sha256] = name
    return {pull.id: f"pulls/{names[pull.sha256]}" for pull in pulls}


def session_text(
    job: Job, rows: list[SetupRow], pulls: list[PullFile], sheets: Mapping[str, str], places: Mapping[int, str]
) -> str:
    """session.toml of a job.

    sheets : file of every setup that has a sheet of its own, places : file of every pull.
    """
    top = {"format": SESSION_FORMAT, "machine": job.machine, "complaint": job.complaint, **job.settings}
    logger = top.pop("logger", {})
    blocks = [_lines(top), *([["[logger]", *_lines(logger)]] if logger else [])]
    for row in rows:
        changes = [[path, value] for path, value in row.changes]
        entry = {"name": row.name, "sheet": sheets.get(row.name), "based_on": row.based_on, "note": row.note}
        blocks.append(["[[setup]]", *_lines({**entry, "change": changes})])
    for pull in pulls:
        said = {key: value for key, value in pull.settings.items() if key != TIME}
        blocks.append(["[[pull]]", *_lines({"file": places[pull.id], "setup": pull.setup, **said})])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _lines(values: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {toml_value(value)}" for key, value in values.items() if value not in (None, "", [], {})]


def _digest(path: str, data: bytes) -> bytes:
    return hashlib.sha256(path.encode() + b"\0" + data).digest()


def _write(files: Mapping[str, bytes], place: Path) -> None:
    """Write a folder whole or not at all; one that is there as it should be is left as it is."""
    if _holds(place, files):
        os.utime(place)
        return
    draft, damaged = (place.with_name(f".writing-{secrets.token_hex(6)}{end}") for end in ("", "-old"))
    try:
        for name, data in files.items():
            path = draft / name
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        _put(draft, place, files, damaged)
    finally:
        shutil.rmtree(draft, ignore_errors=True)
        shutil.rmtree(damaged, ignore_errors=True)
    _throw_away_old(place)


def _put(draft: Path, place: Path, files: Mapping[str, bytes], damaged: Path) -> None:
    """Give the finished folder its name. Another may have been faster; a person may have spoilt the one there."""
    try:
        draft.rename(place)
    except OSError:
        if _holds(place, files):
            return
        if not place.exists():
            raise
        place.rename(damaged)
        draft.rename(place)


def _holds(place: Path, files: Mapping[str, bytes]) -> bool:
    return all((place / name).is_file() and (place / name).read_bytes() == data for name, data in files.items())


def _throw_away_old(place: Path) -> None:
    """Folders of former states of this job, and of writers that died, that nobody asked for in a week."""
    for pattern in (f"*/{place.name}", "*/.writing-*"):
        for old in place.parent.parent.glob(pattern):
            with suppress(OSError):
                if old != place and time.time() - old.stat().st_mtime > OLD:
                    shutil.rmtree(old)
                    old.parent.rmdir()
