from collections.abc import Callable
from datetime import timedelta

import pytest
from sqlalchemy import func, select

from pulsewright.errors import InputError
from pulsewright.records.database import NotKeptError
from pulsewright.records.jobs import Job
from pulsewright.records.store import Store
from pulsewright.records.tables import answers, raw_files, works

New = Callable[..., Job]


def test_a_new_job_has_one_setup_of_its_sheet(store: Store, job: Job, sheet: str):
    (setup,) = store.setups(job.id)
    assert (setup.name, setup.number, setup.version, setup.sheet_text) == ("A", 1, 1, sheet)
    assert store.job(job.id) == job


def test_a_sheet_that_cannot_be_read_makes_no_job(store: Store, sheet: str):
    with pytest.raises(InputError, match="bore"):
        store.new_job("x", "", "", sheet.replace("bore = ", "boar = ", 1))
    assert store.jobs() == []


def test_the_list_has_the_last_changed_first(store: Store, new_job: New):
    first, second = new_job("first"), new_job("second")
    store.edit_job(first.id, complaint="kicks at 4000")
    assert [line.id for line in store.jobs()] == [first.id, second.id]
    assert store.jobs()[0].complaint == "kicks at 4000"
    assert (store.jobs()[0].setups, store.jobs()[0].pulls) == (1, 0)


def test_what_is_not_said_stays(store: Store, job: Job):
    edited = store.edit_job(job.id, settings={"riding_band": ["2200 rpm", "4000 rpm"]})
    assert (edited.title, edited.machine, edited.complaint) == (job.title, job.machine, job.complaint)
    assert edited.settings == {"riding_band": ["2200 rpm", "4000 rpm"]}


@pytest.mark.parametrize(
    ("settings", "complaint"),
    [
        ({"riding_band": ["4000 rpm", "2200 rpm"]}, "falls"),
        ({"riding_band": ["4000 rpm"]}, "riding_band"),
        ({"loger": {}}, "unknown key"),
        ({"setup": []}, "no setting"),
        ({"pull": []}, "no setting"),
        ({"logger": {"torque": "gearbox"}}, "torque"),
    ],
)
def test_settings_that_no_session_takes_are_refused(store: Store, job: Job, settings: dict, complaint: str):
    with pytest.raises(InputError, match=complaint):
        store.edit_job(job.id, settings=settings)
    assert store.job(job.id).settings == {}


def test_the_bin_loses_nothing(store: Store, job: Job):
    store.delete_job(job.id)
    assert store.jobs() == []
    assert [line.id for line in store.jobs(binned=True)] == [job.id]
    assert store.job(job.id).binned is not None
    store.restore_job(job.id)
    assert [line.id for line in store.jobs()] == [job.id]
    assert len(store.setups(job.id)) == 1


def test_emptying_the_bin_leaves_nothing_of_a_job_and_all_of_the_others(store: Store, job: Job):
    other = store.copy_job(job.id, "other")
    for id, raw in ((job.id, b"both"), (job.id, b"mine"), (other.id, b"both")):
        store.add_pull_file(id, "A", "a.csv", raw)
    store.keep_side_file(job.id, "limits.toml", b"side")
    store.keep_answer(job.id, "explain", {})
    store.queue_work(job.id, "fit")
    assert store.empty_bin() == 0
    store.delete_job(job.id)
    assert store.empty_bin(timedelta(days=30)) == 0
    assert store.empty_bin() == 1
    with pytest.raises(NotKeptError):
        store.job(job.id)
    with store.reading() as connection:
        assert connection.execute(select(raw_files.c.data)).scalars().all() == [b"both"]
        counts = [connection.execute(select(func.count()).select_from(table)).scalar() for table in (answers, works)]
    assert counts == [0, 0]
    assert store.job(other.id).copied_from is None
    assert store.raw(store.pull_files(other.id)[0]) == b"both"
    assert [line.id for line in store.jobs("twin")] == [other.id]
    assert store.check() == []


def test_a_copy_goes_its_own_way(store: Store, job: Job):
    store.add_setup(job.id, "B", {"carburettor.1.main_jet": "1.80 mm"}, "leaner")
    store.add_pull_file(job.id, "A", "a.csv", b"rpm,Nm\n")
    copy = store.copy_job(job.id, "another of the same")
    assert copy.copied_from == job.id
    assert [(s.name, s.changes, s.note) for s in store.setups(copy.id)] == [
        (s.name, s.changes, s.note) for s in store.setups(job.id)
    ]
    assert store.pull_files(copy.id) == []
    store.correct_setup(copy.id, "B", changes={"carburettor.1.main_jet": "1.70 mm"})
    assert store.setups(job.id)[1].changes == (("carburettor.1.main_jet", "1.80 mm"),)


@pytest.mark.parametrize("bad", ["", "   ", "x" * 201, "a\x00b", "a\ud800b"])
def test_a_title_that_cannot_be_kept_is_refused(store: Store, job: Job, bad: str):
    with pytest.raises(InputError, match="title"):
        store.edit_job(job.id, title=bad)


ODD = ["'; DROP TABLE jobs; --", '<script>alert("x")</script>', "🏍 Küçük \u202e", "a\nb", "%s{}"]


@pytest.mark.parametrize("odd", ODD)
def test_odd_text_comes_back_as_it_was(store: Store, job: Job, odd: str):
    store.edit_job(job.id, title=odd, machine=odd, complaint=odd)
    assert store.job(job.id).complaint == odd
    assert store.jobs()[0].title == odd


def test_a_job_that_is_not_there_says_so(store: Store):
    for ask in (store.job, store.setups, store.lay_out, store.hashes, store.delete_job):
        with pytest.raises(NotKeptError, match="no job 77"):
            ask(77)
