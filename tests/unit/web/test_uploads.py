"""Files from a browser: names that act, floods, and zip files that are traps."""

import io
import zipfile

import pytest
from starlette.datastructures import UploadFile

from pulsewright.errors import InputError
from pulsewright.web import uploads
from pulsewright.web.uploads import files_of, plain_name, session_in


def sent(name: str, data: bytes) -> UploadFile:
    return UploadFile(io.BytesIO(data), filename=name)


def packed(*entries: tuple[str, bytes]) -> bytes:
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in entries:
            file.writestr(name, data)
    return box.getvalue()


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("01.csv", "01.csv"),
        ("../../etc/passwd", "passwd"),
        ("C:\\Users\\x\\pull 1.csv", "pull 1.csv"),
        ("<script>alert(1)</script>.csv", "script_.csv"),
        ("\x1b[2Jbell\x07.csv", "__2Jbell_.csv"),
        ("....", "unnamed"),
        ("Zündung (2).csv", "Zündung (2).csv"),
        ("a" * 500, "a" * 120),
    ],
)
def test_only_a_plain_name_is_left(name: str, kept: str):
    assert plain_name(name) == kept


def test_the_files_of_a_zip_file_come_one_by_one():
    found = files_of([sent("day.zip", packed(("pulls/01.csv", b"a"), ("pulls/02.csv", b"b"), (".hidden", b"c")))])
    assert [(u.name, u.data) for u in found] == [("01.csv", b"a"), ("02.csv", b"b")]


def test_a_spreadsheet_is_no_zip_file_of_pulls():
    data = packed(("xl/workbook.xml", b"<x/>"), ("[Content_Types].xml", b"<x/>"))
    assert [u.name for u in files_of([sent("a.xlsx", data)])] == ["a.xlsx"]


@pytest.mark.parametrize("name", ["../../evil.csv", "/etc/evil.csv", "a/../../evil.csv", "..\\evil.csv"])
def test_a_way_out_of_the_zip_file_is_refused(name: str):
    with pytest.raises(InputError, match="leads out"):
        files_of([sent("a.zip", packed((name, b"x")))])


def test_a_zip_bomb_is_refused_unread():
    with pytest.raises(InputError, match="unpacks to far more"):
        files_of([sent("a.zip", packed(("a.csv", b"0" * 15_000_000)))])


def test_what_a_zip_file_says_of_itself_is_not_believed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(uploads, "_check_box", lambda *_: None)
    monkeypatch.setattr(uploads, "LARGEST", 1000)
    with pytest.raises(InputError, match="larger than"):
        files_of([sent("a.zip", packed(("a.csv", b"0" * 2000)))])


def test_too_many_and_too_large_are_refused(monkeypatch: pytest.MonkeyPatch):
    with pytest.raises(InputError, match="more than"):
        files_of([sent(f"{n}.csv", b"x") for n in range(uploads.MOST_FILES + 1)])
    monkeypatch.setattr(uploads, "LARGEST", 10)
    with pytest.raises(InputError, match="larger"):
        files_of([sent("a.csv", b"x" * 11)])


def test_a_broken_zip_file_is_said_to_be_one():
    with pytest.raises(InputError, match="cannot be opened"):
        files_of([sent("a.zip", packed(("a", b"b"))[:40])])


def test_no_file_is_said():
    with pytest.raises(InputError, match="no file"):
        files_of([])


def test_a_session_folder_stays_in_its_folder(tmp_path):
    data = packed(("day/session.toml", b"a"), ("day/pulls/01.csv", b"b"), ("other/x.csv", b"c"))
    found = session_in(files_of([sent("day.zip", data)]), tmp_path)
    assert sorted(str(p.relative_to(found)) for p in found.rglob("*") if p.is_file()) == [
        "pulls/01.csv",
        "session.toml",
    ]
