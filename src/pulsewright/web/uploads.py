"""Files that a browser sends: how many, how large, and what their names may be. Zip files are opened with care."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from starlette.datastructures import UploadFile
from starlette.requests import Request

from pulsewright.errors import InputError
from pulsewright.web import words

MOST_FILES = 40
LARGEST = 20 * 1024 * 1024  # [byte] of one file
LARGEST_TOGETHER = 60 * 1024 * 1024  # [byte] unpacked
MOST_TIMES = 200  # what unpacked is larger than packed; more is no measurement
LONGEST_NAME = 120
LONGEST_WORD = 200  # of a field beside the files
ZIP = b"PK\x03\x04"
WORKBOOK = "xl/"


@dataclass(frozen=True, slots=True)
class Upload:
    """One file: its name without folders or odd characters, and its bytes."""

    name: str
    data: bytes
    path: str = ""  # inside a zip file, with its folders


async def words_and_files(request: Request) -> tuple[dict[str, str], list[UploadFile]]:
    """What a form says in words, cut short, and the files that it sends as `files`."""
    form = await request.form()
    said = {key: value[:LONGEST_WORD] for key, value in form.items() if isinstance(value, str)}
    return said, [each for each in form.getlist("files") if not isinstance(each, str)]


def files_of(sent: Sequence[UploadFile]) -> list[Upload]:
    """The files of a form, those of a zip file one by one.

    Raises InputError for too many, too large, or a zip file that is a trap.
    """
    if not [each for each in sent if each.filename]:
        raise InputError(words.TEXT["upload_none"], hint=words.TEXT["upload_none_hint"])
    found: list[Upload] = []
    for each in sent:
        if not each.filename:
            continue
        data = each.file.read(LARGEST + 1)
        name = plain_name(each.filename)
        _check_size(len(data), name)
        if data.startswith(ZIP):
            found += _unpacked(data, name)
        else:
            found.append(Upload(name, data, name))
        _check_all(found)
    return found


def whole_file_of(sent: UploadFile) -> Upload:
    """One file as it was sent, also where it is a zip file. Raises InputError for one that is too large."""
    name = plain_name(sent.filename or "")
    data = sent.file.read(LARGEST_TOGETHER + 1)
    _check_size(len(data), name, LARGEST_TOGETHER)
    return Upload(name, data, name)


def plain_name(name: str) -> str:
    """A name to show and to keep: the last part of a path, without what acts in a terminal or a file system."""
    last = re.split(r"[/\\]", name)[-1]
    kept = re.sub(r"[^\w .()+-]", "_", last).strip(" .")
    return kept[-LONGEST_NAME:] or "unnamed"


def session_in(uploads: Iterable[Upload], folder: Path) -> Path:
    """Lay a session folder that came in a zip file out in an empty folder; returns where its session.toml lies."""
    rows = list(uploads)
    tops = [PurePosixPath(u.path).parent for u in rows if PurePosixPath(u.path).name == "session.toml"]
    if len(tops) != 1:
        raise InputError(words.TEXT["upload_session"].format(count=len(tops)), hint=words.TEXT["upload_session_hint"])
    for upload in rows:
        inside = PurePosixPath(upload.path)
        if inside.is_relative_to(tops[0]):
            relative = inside.relative_to(tops[0])
            target = folder.joinpath(*(plain_name(part) for part in relative.parts))
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(upload.data)
    return folder


def _check_size(size: int, name: str, largest: int | None = None) -> None:
    largest = largest or LARGEST
    if size > largest:
        raise InputError(
            words.TEXT["upload_large"].format(mib=largest // 1024**2), where=name, hint=words.TEXT["upload_large_hint"]
        )


def _check_all(found: Sequence[Upload]) -> None:
    if len(found) > MOST_FILES:
        raise InputError(words.TEXT["upload_many"].format(most=MOST_FILES), hint=words.TEXT["upload_goes"])
    if sum(len(each.data) for each in found) > LARGEST_TOGETHER:
        raise InputError(
            words.TEXT["upload_together"].format(mib=LARGEST_TOGETHER // 1024**2), hint=words.TEXT["upload_goes"]
        )


def _unpacked(data: bytes, name: str) -> list[Upload]:
    """The files in a zip file, or the file itself where it is a spreadsheet."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as box:
            entries = [e for e in box.infolist() if not e.is_dir()]
            _check_box(entries, len(data), name)
            if any(e.filename.startswith(WORKBOOK) for e in entries):
                return [Upload(name, data, name)]
            return [_entry(box, e) for e in entries if not _path(e).name.startswith((".", "__"))]
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise InputError(
            words.TEXT["upload_zip"].format(error=error), where=name, hint=words.TEXT["upload_zip_hint"]
        ) from None


def _check_box(entries: Sequence[zipfile.ZipInfo], packed: int, name: str) -> None:
    """What a zip file says of itself; the reading below does not believe it."""
    whole = sum(e.file_size for e in entries)
    if len(entries) > 10 * MOST_FILES or whole > LARGEST_TOGETHER or whole > MOST_TIMES * max(packed, 1024):
        raise InputError(words.TEXT["upload_bomb"], where=name, hint=words.TEXT["upload_bomb_hint"])


def _path(entry: zipfile.ZipInfo) -> PurePosixPath:
    return PurePosixPath(entry.filename.replace("\\", "/"))


def _entry(box: zipfile.ZipFile, entry: zipfile.ZipInfo) -> Upload:
    path = _path(entry)
    if path.is_absolute() or ".." in path.parts or entry.flag_bits & 1:
        raise InputError(words.TEXT["upload_out"], where=plain_name(entry.filename))
    with box.open(entry) as file:
        data = file.read(LARGEST + 1)
    _check_size(len(data), plain_name(entry.filename))
    return Upload(plain_name(path.name), data, str(path))
