"""The invented day: copied without harm, marked as invented everywhere, read as it was written."""

from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.session import read_session
from pulsewright.demo.copy_session import SESSION, copy_session
from pulsewright.errors import InputError
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls

FILES = [path for path in sorted(SESSION.rglob("*")) if path.is_file()]


@pytest.fixture(scope="module")
def pulls() -> SessionPulls:
    return read_session_pulls(read_session(SESSION))


def test_it_is_copied_whole_and_again(tmp_path: Path):
    folder = copy_session(tmp_path / "new" / "day")
    assert copy_session(folder) == folder
    for source in FILES:
        assert (folder / source.relative_to(SESSION)).read_bytes() == source.read_bytes()


def test_it_is_copied_into_an_empty_folder(tmp_path: Path):
    assert (copy_session(tmp_path) / "session.toml").is_file()


def test_a_folder_of_somebody_else_is_left_alone(tmp_path: Path):
    (tmp_path / "session.toml").write_text("mine")
    with pytest.raises(InputError, match="not this demo"):
        copy_session(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["session.toml"]
    assert (tmp_path / "session.toml").read_text() == "mine"


def test_what_was_changed_since_is_not_overwritten(tmp_path: Path):
    sheet = copy_session(tmp_path) / "setup.toml"
    sheet.write_text("changed")
    with pytest.raises(InputError, match="changed since"):
        copy_session(tmp_path)
    assert sheet.read_text() == "changed"


def test_a_file_in_the_way_is_said(tmp_path: Path):
    (tmp_path / "day").write_text("")
    with pytest.raises(InputError, match="in the way"):
        copy_session(tmp_path / "day")


def test_every_file_says_that_it_is_invented():
    assert len(FILES) == 13
    for path in FILES:
        text = path.read_bytes().decode("utf-8" if path.suffix != ".csv" else "cp1252")
        assert "INVENTED" in text.upper() or "ERFUNDEN" in text, path


def test_the_session_is_marked_for_every_report():
    session = read_session(SESSION)
    assert session.invented
    assert "invented" in session.workshop
    assert "invented" in session.machine
    assert all("invented" in pull.note for pull in session.pulls)
    assert [pull.setup for pull in session.pulls] == list("AAABBBCCCA")


def test_both_habits_of_writing_are_read_alike(pulls: SessionPulls):
    """Newton metres behind a decimal comma, and foot-pounds: a mix-up would be off by 36 %."""
    a, c = pulls.setups["A"], pulls.setups["C"]
    near = 2600.0
    at = [float(np.interp(near, x.rpm, x.torque)) for x in (a, c)]
    assert at[1] == pytest.approx(at[0], rel=0.05)
    mixtures = [float(np.interp(near, x.rpm, x.mixture)) for x in (a, c)]
    assert mixtures == pytest.approx([0.87, 0.87], abs=0.05)
    assert not pulls.questions


def test_its_hole_is_found(pulls: SessionPulls):
    """Regression values: the machine behind the pulls is our own model with another friction and spark."""
    assert pulls.hole is not None
    assert pulls.hole.repeats
    assert pulls.hole.rpm_bottom == pytest.approx(3620.0, abs=100.0)
    assert pulls.hole.depth == pytest.approx(0.17, abs=0.04)
    assert all(pulls.used)


def test_the_plates_fill_it_and_the_jets_do_not(pulls: SessionPulls):
    change = {c.second: c.bottom_percent or 0.0 for c in pulls.comparisons}
    assert change["C"] > 2.0 * change["B"] > 0.0
