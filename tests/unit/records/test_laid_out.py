"""A job as a session folder, and back."""

import os
import shutil
import time
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pulsewright.bench.session import Session, read_session
from pulsewright.demo.copy_session import SESSION
from pulsewright.errors import InputError
from pulsewright.pulls.session_pulls import read_session_pulls
from pulsewright.records.jobs import Job
from pulsewright.records.laid_out import OLD
from pulsewright.records.store import Store


def content(session: Session) -> tuple:
    """All that a session says, without where its files lie."""
    setups = [(s.name, s.setup, s.changes, s.note, s.based_on, s.text) for s in session.setups]
    pulls = [replace(pull, file=Path(pull.file.name)) for pull in session.pulls]
    raw = [pull.file.read_bytes() for pull in session.pulls]
    mapping = session.logger.mapping and session.logger.mapping.read_bytes()
    limits = session.limits and session.limits.read_bytes()
    logger = replace(session.logger, mapping=None)
    rest = (session.machine, session.workshop, session.invented, session.complaint, session.riding_band)
    return (setups, pulls, raw, logger, mapping, limits, rest, session.target_lambda)


def test_a_session_comes_back_as_it_was(store: Store):
    job = store.take_in(SESSION)
    assert content(read_session(store.lay_out(job.id))) == content(read_session(SESSION))
    assert [pull.recipe["sha256"] for pull in store.pull_files(job.id)] == [p.sha256 for p in store.pull_files(job.id)]


@pytest.mark.slow
def test_the_readers_of_sessions_find_the_same_hole(lite: Store):
    laid = read_session_pulls(read_session(lite.lay_out(lite.take_in(SESSION).id)))
    own = read_session_pulls(read_session(SESSION))
    assert own.hole is not None
    assert laid.hole is not None
    assert laid.hole.as_json() == own.hole.as_json()


@pytest.fixture
def odd_session(tmp_path: Path) -> Path:
    """A session that uses what the demo does not: files of its own, several sheets, setups out of order, odd names."""
    folder = tmp_path / "odd"
    shutil.copytree(SESSION, folder)
    (folder / "pulls" / "01.csv").rename(folder / "pulls" / "con.csv")
    (folder / "pulls" / "02.csv").rename(folder / "Lauf 2 (früh).csv")
    shutil.copy(folder / "setup.toml", folder / "second sheet.toml")
    (folder / "map.toml").write_text('format = "pulsewright mapping 1"\ndecimal = "."\n', encoding="utf-8")
    (folder / "ours.toml").write_text('format = "pulsewright limits 1"\n', encoding="utf-8")
    text = (folder / "session.toml").read_text(encoding="utf-8")
    text = text.replace("pulls/01.csv", "pulls/con.csv").replace("pulls/02.csv", "Lauf 2 (früh).csv")
    text = text.replace("[logger]", 'limits = "ours.toml"\n[logger]\nmapping = "map.toml"', 1)
    text = text.replace('[[setup]]\nname = "A"', '[[setup]]\nname = "Z"\nbased_on = "A 2"\n\n[[setup]]\nname = "A"', 1)
    extra = '[[setup]]\nname = "A 2"\nsheet = "second sheet.toml"\nchange = [["engine.compression_ratio", 8.8]]\n\n'
    (folder / "session.toml").write_text(text.replace("[[pull]]", extra + "[[pull]]", 1), encoding="utf-8")
    return folder


def test_an_odd_session_comes_back_too(store: Store, odd_session: Path):
    job = store.take_in(odd_session)
    laid = read_session(store.lay_out(job.id))
    before, after = content(read_session(odd_session)), content(laid)
    assert [pull.file.name for pull in laid.pulls][:3] == ["01.csv", "Lauf 2 (früh).csv", "03.csv"]
    named = [[replace(pull, file=Path()) for pull in each[1]] for each in (before, after)]
    assert named[0] == named[1]
    assert before[0] == after[0]
    assert before[2:] == after[2:]
    copy = store.copy_job(job.id, "copy")
    assert content(read_session(store.lay_out(copy.id)))[4:6] == before[4:6]


def test_the_same_job_gives_the_same_folder(lite: Store):
    job = lite.take_in(SESSION)
    first = lite.laid_out(job.id)
    lite.edit_job(job.id, title="another title")
    lite.keep_answer(job.id, "explain", {})
    assert lite.laid_out(job.id) == first
    assert first.hashes == lite.hashes(job.id)
    lite.add_setup(job.id, "D", {"carburettor.1.main_jet": "1.80 mm"})
    second = lite.lay_out(job.id)
    assert second != first.folder
    assert first.folder.is_dir()
    assert second.name == first.folder.name == f"job-{job.id}"


def test_a_folder_that_somebody_changed_is_made_again(lite: Store):
    job = lite.take_in(SESSION)
    folder = lite.lay_out(job.id)
    (folder / "setup.toml").write_text("spoilt", encoding="utf-8")
    (folder / "pulls" / "01.csv").unlink()
    assert lite.lay_out(job.id) == folder
    assert content(read_session(folder)) == content(read_session(SESSION))
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]


def test_old_folders_go_and_young_ones_stay(lite: Store):
    job = lite.take_in(SESSION)
    first = lite.lay_out(job.id)
    lite.add_setup(job.id, "D", {"carburettor.1.main_jet": "1.80 mm"})
    second = lite.lay_out(job.id)
    old = time.time() - OLD - 60.0
    os.utime(first, (old, old))
    lite.add_setup(job.id, "E", {"carburettor.1.main_jet": "1.70 mm"})
    lite.lay_out(job.id)
    assert (first.exists(), second.exists()) == (False, True)


def test_what_only_the_store_knows_stays_in_it(store: Store, job: Job):
    store.add_pull_file(job.id, "A", "a.csv", b"1", {"kind": "sweep"}, {"time": "14:20", "kind": "sweep"})
    data = tomllib.loads((store.lay_out(job.id) / "session.toml").read_text(encoding="utf-8"))
    assert data["pull"] == [{"file": "pulls/a.csv", "setup": "A", "kind": "sweep"}]


@pytest.mark.parametrize(
    "name",
    ["../up.csv", "..", ".hidden", "con.csv", "a/b.csv", "a\\b.csv", "x" * 300 + ".csv", "a:b.csv", "a\nb.csv",
     "a.cs v ", '"; x = "', "ü.csv", "aux", "trailing.", "run.csv.exe", "a.c$v"],
)  # fmt: skip
def test_no_name_leaves_the_folder(lite: Store, sheet: str, name: str):
    job = lite.new_job("twin", "", "", sheet)
    lite.add_pull_file(job.id, "A", name, b"1")
    lite.add_pull_file(job.id, "A", name, b"2")
    folder = lite.lay_out(job.id)
    files = [pull.file for pull in read_session(folder).pulls]
    assert [file.read_bytes() for file in files] == [b"1", b"2"]
    assert all(file.resolve().parent == (folder / "pulls").resolve() for file in files)
    assert sorted(p.name for p in folder.iterdir()) == ["pulls", "session.toml", "setup.toml"]


@pytest.mark.parametrize("name", ["session.toml", "setup.toml", "Setup-2.TOML", "pulls", "a$b", "", "..", "-x"])
def test_a_side_file_cannot_take_the_place_of_another(lite: Store, sheet: str, name: str):
    job = lite.new_job("twin", "", "", sheet)
    if name:
        with pytest.raises(InputError, match="cannot be called"):
            lite.keep_side_file(job.id, name, b"1")
    assert lite.keep_side_file(job.id, "/etc/limits.toml", b"1") == "limits.toml"
    assert lite.side_files(job.id) == {"limits.toml": b"1"}


TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=40)


@given(machine=TEXT, complaint=TEXT, name=TEXT.filter(str.strip), note=TEXT, pull_note=TEXT)
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_comes_back_out_of_the_folder(
    lite: Store, sheet: str, machine: str, complaint: str, name: str, note: str, pull_note: str
):
    job = lite.new_job("twin", machine, complaint, sheet)
    lite.add_setup(job.id, f"{name} 2", {"carburettor.1.main_jet": "1.80 mm"}, note)
    lite.add_pull_file(job.id, lite.setups(job.id)[1].name, "a.csv", b"1", settings={"note": pull_note})
    session = read_session(lite.lay_out(job.id))
    assert (session.machine, session.complaint) == (machine.strip(), complaint.strip())
    assert (session.setups[1].name, session.setups[1].note) == (f"{name} 2".strip(), note.strip())
    assert session.pulls[0].note == pull_note.strip()


def test_what_is_no_session_makes_no_job(store: Store, tmp_path: Path):
    with pytest.raises(InputError):
        store.take_in(tmp_path)
    shutil.copytree(SESSION, tmp_path / "s")
    (tmp_path / "s" / "pulls" / "03.csv").unlink()
    with pytest.raises(InputError, match=r"03.csv"):
        store.take_in(tmp_path / "s")
    assert store.jobs() == []


def test_a_pull_that_cannot_be_read_is_taken_in_all_the_same(store: Store, tmp_path: Path):
    shutil.copytree(SESSION, tmp_path / "s")
    (tmp_path / "s" / "pulls" / "03.csv").write_bytes(b"%PDF nonsense")
    pulls = store.pull_files(store.take_in(tmp_path / "s").id)
    assert [bool(pull.recipe) for pull in pulls] == [True, True, False, *[True] * 7]
