from datetime import timedelta

import pytest

from pulsewright.errors import UsageError
from pulsewright.records import work as work_module
from pulsewright.records.database import NotKeptError
from pulsewright.records.jobs import Job
from pulsewright.records.store import Store
from pulsewright.records.work import Work


def claimed(store: Store, job: Job) -> Work:
    store.queue_work(job.id, "fit", {"draws": 32})
    work = store.claim()
    assert work is not None
    return work


def as_another_process(monkeypatch: pytest.MonkeyPatch, owner: str) -> None:
    monkeypatch.setattr(work_module, "this_owner", lambda: owner)


def test_work_from_asking_to_its_end(store: Store, job: Job):
    asked = store.queue_work(job.id, "fit", {"draws": 32})
    assert (asked.state, asked.progress, asked.arguments) == ("waiting", 0.0, {"draws": 32})
    work = store.claim()
    assert work is not None
    assert (work.id, work.state, work.tries) == (asked.id, "running", 1)
    assert store.claim() is None
    assert store.heartbeat(work.id, 0.4, "looking for the best fit")
    assert (store.work(work.id).progress, store.work(work.id).words) == (0.4, "looking for the best fit")
    done = store.finish(work.id)
    assert (done.state, done.progress) == ("done", 1.0)
    assert done.ended is not None
    assert not store.heartbeat(work.id, 0.1)
    assert store.finish(work.id, "failed").state == "done"


def test_asking_twice_does_no_harm(store: Store, job: Job):
    first = store.queue_work(job.id, "fit", {"draws": 32})
    assert store.queue_work(job.id, "fit", {"draws": 32}).id == first.id
    assert store.queue_work(job.id, "fit", {"draws": 8}).id != first.id
    store.claim()
    store.ask_to_stop(first.id)
    assert store.queue_work(job.id, "fit", {"draws": 32}).id != first.id


def test_the_one_that_waited_longest_comes_first_and_kinds_choose(store: Store, job: Job):
    fit, search = store.queue_work(job.id, "fit"), store.queue_work(job.id, "advise")
    chosen = store.claim("advise", "report")
    assert chosen is not None
    assert chosen.id == search.id
    rest = store.claim()
    assert rest is not None
    assert rest.id == fit.id


def test_a_stop_is_seen_at_the_next_sign_of_life(store: Store, job: Job):
    work = claimed(store, job)
    store.ask_to_stop(work.id)
    assert not store.heartbeat(work.id, 0.5)
    assert store.finish(work.id, "stopped").state == "stopped"


def test_waiting_work_stops_at_once(store: Store, job: Job):
    work = store.queue_work(job.id, "fit")
    assert store.ask_to_stop(work.id).state == "stopped"
    assert store.claim() is None


def test_own_work_is_never_left_over(store: Store, job: Job):
    claimed(store, job)
    assert store.resume_left_over(timedelta(0)) == []


@pytest.mark.parametrize("owner", ["HERE 2147480000 dead", "HERE ME an-earlier-process-of-this-number"])
def test_work_of_a_dead_owner_goes_on(store: Store, job: Job, owner: str, monkeypatch: pytest.MonkeyPatch):
    host, number, _ = work_module.this_owner().split(" ")
    with monkeypatch.context() as other:
        as_another_process(other, owner.replace("HERE", host).replace("ME", number))
        work = claimed(store, job)
        store.heartbeat(work.id, 0.4)
    (left,) = store.resume_left_over()
    assert (left.id, left.state, left.progress) == (work.id, "waiting", 0.4)
    again = store.claim()
    assert again is not None
    assert again.tries == 2


def test_an_owner_on_another_machine_is_dead_after_its_silence(store: Store, job: Job, monkeypatch: pytest.MonkeyPatch):
    with monkeypatch.context() as other:
        as_another_process(other, "bay2 17 x")
        work = claimed(store, job)
    assert store.resume_left_over() == []
    assert not store.heartbeat(work.id)  # not ours
    assert [w.id for w in store.resume_left_over(timedelta(0))] == [work.id]


def test_a_taken_over_work_is_not_ended_by_its_former_owner(store: Store, job: Job, monkeypatch: pytest.MonkeyPatch):
    with monkeypatch.context() as other:
        as_another_process(other, "bay2 17 x")
        work = claimed(store, job)
    store.resume_left_over(timedelta(0))
    store.claim()
    with monkeypatch.context() as other:
        as_another_process(other, "bay2 17 x")
        assert store.finish(work.id, "failed").state == "running"


def test_work_that_kills_its_owner_is_not_begun_for_ever(store: Store, job: Job, monkeypatch: pytest.MonkeyPatch):
    store.queue_work(job.id, "fit")
    states = []
    for _ in range(4):
        with monkeypatch.context() as other:
            as_another_process(other, "bay2 17 x")
            store.claim()
        states += [work.state for work in store.resume_left_over(timedelta(0))]
    assert states == ["waiting", "waiting", "failed"]


def test_a_stop_that_was_asked_before_the_owner_died_counts(store: Store, job: Job, monkeypatch: pytest.MonkeyPatch):
    with monkeypatch.context() as other:
        as_another_process(other, "bay2 17 x")
        work = claimed(store, job)
    store.ask_to_stop(work.id)
    assert [w.state for w in store.resume_left_over(timedelta(0))] == ["stopped"]


def test_lists_by_job_and_state(store: Store, job: Job):
    other = store.copy_job(job.id, "copy")
    first, second = store.queue_work(job.id, "fit"), store.queue_work(other.id, "fit")
    store.claim()
    assert [w.id for w in store.works()] == [second.id, first.id]
    assert [w.id for w in store.works(other.id)] == [second.id]
    assert [w.id for w in store.works(None, "running")] == [first.id]


@pytest.mark.parametrize("words", ["x" * 9000, "a\x00b", "\ud800"])
def test_odd_sentences_do_not_stop_the_work(store: Store, job: Job, words: str):
    work = claimed(store, job)
    assert store.heartbeat(work.id, 7.0, words)
    assert store.work(work.id).progress == 1.0
    assert store.finish(work.id, "failed", words).state == "failed"


def test_wrong_ends_and_unknown_work(store: Store, job: Job):
    with pytest.raises(UsageError):
        store.finish(claimed(store, job).id, "running")
    with pytest.raises(NotKeptError):
        store.work(99)
