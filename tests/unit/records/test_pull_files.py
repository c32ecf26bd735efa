import hashlib

import pytest

from pulsewright.errors import InputError
from pulsewright.pulls.decoding import LARGEST_FILE
from pulsewright.records.database import NotKeptError
from pulsewright.records.jobs import Job
from pulsewright.records.store import Store

RAW = "Zeit;Drehzahl\r\n0,1;1500\r\n".encode("utf-16")
SETTINGS = {
    "kind": "sweep", "air": {"temperature": "24 degC", "pressure": "99.4 kPa"}, "head_temperature": "168 degC",
    "note": "third of the warm-up set", "time": "14:20",
}  # fmt: skip


def test_the_bytes_come_back_as_they_were(store: Store, job: Job):
    pull = store.add_pull_file(job.id, "A", "C:\\logs\\day 1\\run.csv", RAW, {"kind": "sweep"}, SETTINGS)
    assert store.raw(pull) == store.raw(pull.id) == RAW
    assert pull.sha256 == hashlib.sha256(RAW).hexdigest()
    assert (pull.file_name, pull.number, pull.setup) == ("run.csv", 1, "A")
    assert (pull.recipe, pull.settings) == ({"kind": "sweep"}, SETTINGS)
    assert store.pull_files(job.id) == [pull]


def test_the_same_bytes_twice_are_told(store: Store, job: Job):
    store.add_pull_file(job.id, "A", "run.csv", RAW)
    with pytest.raises(InputError, match=r"as pull 1 \('run.csv', setup A\)"):
        store.add_pull_file(job.id, "A", "another name.csv", RAW)
    assert len(store.pull_files(job.id)) == 1


def test_another_pull_of_the_same_file_is_another_pull(store: Store, job: Job):
    store.add_pull_file(job.id, "A", "run.csv", RAW, settings={"number": 1})
    second = store.add_pull_file(job.id, "A", "run.csv", RAW, settings={"number": 2})
    with pytest.raises(InputError, match="already"):
        store.edit_pull_file(second.id, settings={"number": 1})


def test_another_job_may_have_the_same_file(store: Store, job: Job):
    store.add_pull_file(job.id, "A", "run.csv", RAW)
    copy = store.copy_job(job.id, "copy")
    assert store.raw(store.add_pull_file(copy.id, "A", "run.csv", RAW)) == RAW


def test_pulls_move_and_go(store: Store, job: Job):
    ids = [store.add_pull_file(job.id, "A", f"{n}.csv", bytes([n])).id for n in range(1, 5)]
    store.edit_pull_file(ids[3], number=2)
    store.remove_pull_file(ids[0])
    assert [(pull.id, pull.number) for pull in store.pull_files(job.id)] == [(ids[3], 1), (ids[1], 2), (ids[2], 3)]
    again = store.add_pull_file(job.id, "A", "1.csv", bytes([1]))
    assert (again.number, again.id > ids[3]) == (4, True)
    with pytest.raises(NotKeptError):
        store.pull_file(ids[0])


def test_what_is_known_of_a_pull_is_corrected(store: Store, job: Job):
    store.add_setup(job.id, "B", {"carburettor.1.main_jet": "1.80 mm"})
    pull = store.add_pull_file(job.id, "A", "run.csv", RAW, settings=SETTINGS)
    edited = store.edit_pull_file(pull.id, setup="B", settings={"kind": "steps"})
    assert (edited.setup, edited.settings, edited.sha256) == ("B", {"kind": "steps"}, pull.sha256)


@pytest.mark.parametrize(
    ("settings", "complaint"),
    [
        ({"kind": "jump"}, "kind"), ({"aire": {}, "air": 3}, "a"),
        ({"head_temperature": "400 bar"}, "head_temperature"),
        ({"number": 0}, "number"), ({"file": "b.csv"}, "no settings"), ({"unknown": 1}, "unknown"),
    ],
)  # fmt: skip
def test_settings_that_no_session_takes_are_refused(store: Store, job: Job, settings: dict, complaint: str):
    with pytest.raises(InputError, match=complaint):
        store.add_pull_file(job.id, "A", "run.csv", RAW, settings=settings)
    assert store.pull_files(job.id) == []


def test_a_file_without_bytes_or_with_too_many_is_refused(store: Store, job: Job):
    with pytest.raises(InputError, match="empty"):
        store.add_pull_file(job.id, "A", "run.csv", b"")
    with pytest.raises(InputError, match="MB"):
        store.add_pull_file(job.id, "A", "run.csv", bytes(LARGEST_FILE + 1))


def test_a_setup_that_is_not_there_takes_no_pull(store: Store, job: Job):
    with pytest.raises(InputError, match="no setup 'Z'"):
        store.add_pull_file(job.id, "Z", "run.csv", RAW)


@pytest.mark.parametrize(
    ("name", "kept"),
    [("../../etc/passwd", "passwd"), ("a/b\\c.csv", "c.csv"), ("\x00\n", "unnamed"), ("", "unnamed"), ("  x  ", "x")],
)
def test_a_hostile_name_loses_its_path(store: Store, job: Job, name: str, kept: str):
    assert store.add_pull_file(job.id, "A", name, RAW).file_name == kept


def test_mappings_are_remembered_by_shop(store: Store):
    text = 'format = "pulsewright mapping 1"\ndecimal = ","\n[columns]\nengine_speed = "Drehzahl"\n'
    store.keep_mapping("bay 1", text)
    store.keep_mapping("bay 2", text.replace("Drehzahl", "n"))
    store.keep_mapping("bay 2", text.replace("Drehzahl", "RPM"))
    assert store.fitting_mappings(["Zeit", "Drehzahl"]) == ["bay 1"]
    assert store.mappings()["bay 2"].columns == {"engine_speed": "RPM"}
    assert store.mapping_text("bay 1") == text
    store.forget_mapping("bay 1")
    assert list(store.mappings()) == ["bay 2"]
    with pytest.raises(InputError):
        store.keep_mapping("bay 3", "format = 3")
