"""Files that cannot be read say why, and where."""

from pathlib import Path

import pytest
from tests.unit.bench.sheets import MUFFLED_TWIN

from pulsewright.bench.sheet import read_setup
from pulsewright.errors import InputError


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('bore = "96 mm"', 'bore = "96 mm', "line 6, column 14"),
        ('bore = "96 mm"', "bore = 96 mm", "line 6, column 11"),
        ('bore = "96 mm"', "bore = 96,5", "line 6, column 10"),
        ('bore = "96 mm"', 'bore = "96 mm"\nbore = "97 mm"', "line 7, column 15"),
        ("[engine.intake_port]", "[engine.intake_port", "line 28, column 20"),
    ],
)
def test_broken_toml_points_at_line_and_column(tmp_path: Path, old: str, new: str, where: str):
    path = tmp_path / "broken.toml"
    path.write_text(MUFFLED_TWIN.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_setup(path)
    assert refused.value.where == f"{path}, {where}"
    assert "quotes" in (refused.value.hint or "")


def test_a_line_break_inside_braces_says_so(tmp_path: Path):
    path = tmp_path / "broken.toml"
    path.write_text(MUFFLED_TWIN.replace('wall = "single", bends', 'wall = "single",\n bends'), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_setup(path)
    assert "on one line" in (refused.value.hint or "")


def test_not_utf8_names_the_line(tmp_path: Path):
    path = tmp_path / "latin.toml"
    path.write_bytes(b"# one\n# M\xfcnchen\n" + MUFFLED_TWIN.encode())
    with pytest.raises(InputError, match="not UTF-8") as refused:
        read_setup(path)
    assert (refused.value.where or "").endswith("line 2")


def test_a_byte_order_mark_and_windows_line_ends_are_fine(tmp_path: Path):
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + MUFFLED_TWIN.replace("\n", "\r\n").encode())
    assert read_setup(path).engine.cylinders == 2


@pytest.mark.parametrize("name", ["nothing.toml", "."])
def test_no_such_file(tmp_path: Path, name: str):
    with pytest.raises(InputError, match="cannot read"):
        read_setup(tmp_path / name)


def test_a_huge_file_is_not_a_sheet(tmp_path: Path):
    path = tmp_path / "huge.toml"
    path.write_bytes(b"#" * 2_000_001)
    with pytest.raises(InputError, match="2000001 bytes"):
        read_setup(path)
