import pytest

from pulsewright.errors import InputError, UsageError
from pulsewright.records import answers as answers_module
from pulsewright.records.jobs import Job
from pulsewright.records.store import Store


def stale(store: Store, job: Job) -> tuple[str, ...]:
    newest = store.newest(job.id, "explain")
    assert newest is not None
    return newest.stale


def test_an_answer_names_what_it_was_made_from(store: Store, job: Job):
    kept = store.keep_answer(job.id, "fit", {"rows": [1.5, None], "text": "ü\x00"}, seed=7)
    assert (kept.data, kept.seed, kept.kind) == ({"rows": [1.5, None], "text": "ü\x00"}, 7, "fit")
    assert (kept.sheet_hash, kept.data_hash) == (store.hashes(job.id).sheet, store.hashes(job.id).data)
    assert kept.code.startswith("0.")
    assert kept.current
    assert store.answer(kept.id) == kept
    assert store.newest(job.id, "explain") is None


def test_the_newest_comes_first(store: Store, job: Job):
    for n in range(3):
        store.keep_answer(job.id, "explain", {"n": n})
    store.keep_answer(job.id, "fit", {"n": 9})
    assert [a.data["n"] for a in store.answers(job.id, "explain")] == [2, 1, 0]
    assert [a.data["n"] for a in store.answers(job.id)] == [9, 2, 1, 0]


def test_an_answer_is_current_until_something_that_it_rests_on_moves(store: Store, job: Job):
    store.add_pull_file(job.id, "A", "a.csv", b"1", settings={"note": "x"})
    store.keep_answer(job.id, "explain", {})
    store.edit_job(job.id, title="other", machine="other", complaint="other", settings={"workshop": "ours"})
    store.add_setup(job.id, "B", {"carburettor.1.main_jet": "1.80 mm"})  # not pulled yet
    pull = store.pull_files(job.id)[0]
    store.edit_pull_file(pull.id, settings={"note": "y", "time": "12:00"})
    assert stale(store, job) == ()
    store.edit_pull_file(pull.id, settings={"air": {"temperature": "20 degC", "pressure": "99 kPa"}})
    assert stale(store, job) == ("data",)
    store.edit_pull_file(pull.id, settings={})
    assert stale(store, job) == ()
    store.edit_pull_file(pull.id, setup="B")
    assert stale(store, job) == ("sheet", "data")


def test_a_corrected_sheet_makes_it_stale_also_through_what_builds_on_it(store: Store, job: Job):
    store.add_setup(job.id, "B", {"carburettor.1.main_jet": "1.80 mm"})
    store.add_pull_file(job.id, "B", "a.csv", b"1")
    store.keep_answer(job.id, "explain", {})
    store.correct_setup(job.id, "A", note="only words")
    assert stale(store, job) == ()
    store.correct_setup(job.id, "A", changes={"engine.compression_ratio": 8.8})
    assert stale(store, job) == ("sheet",)


def test_other_code_makes_it_stale(store: Store, job: Job, monkeypatch: pytest.MonkeyPatch):
    store.keep_answer(job.id, "explain", {})
    monkeypatch.setattr(answers_module, "code_of_answers", lambda: "9.9.9+other")
    assert stale(store, job) == ("code",)


def test_what_it_was_made_from_is_what_was_there_when_it_began(store: Store, job: Job):
    began = store.hashes(job.id)
    store.add_pull_file(job.id, "A", "a.csv", b"1")
    assert not store.keep_answer(job.id, "explain", {}, made_from=began).current


@pytest.mark.parametrize("data", [{"x": float("nan")}, {"x": float("inf")}, {"x": object()}])
def test_what_is_no_json_is_not_kept(store: Store, job: Job, data: dict):
    with pytest.raises(InputError, match="JSON"):
        store.keep_answer(job.id, "fit", data)
    assert store.answers(job.id) == []


def test_only_known_kinds(store: Store, job: Job):
    with pytest.raises(UsageError, match="kind"):
        store.keep_answer(job.id, "guess", {})
