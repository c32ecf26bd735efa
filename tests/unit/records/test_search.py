from collections.abc import Callable

import pytest

from pulsewright.records.jobs import Job
from pulsewright.records.store import Store

New = Callable[..., Job]
ATTACKS = [
    '"', "'", '"unbalanced', "a OR b", "NOT", "AND AND", "NEAR(a b)", "title:x", "*", "^a", "a*b", "-a", "(", ")(",
    "{a}", "a + b", "'; DROP TABLE job_words; --", "\\", "a:*", "a & | ! b", "<->", "%", "_", "\x00", "\ud800", "🏍",
    "a\nb",
    "x" * 5000, "a " * 5000, "ﷺ", "İ", "ß" * 200, "1.85", "''' OR 1=1",
]  # fmt: skip


def found(store: Store, words: str) -> list[int]:
    return [line.id for line in store.jobs(words)]


@pytest.mark.parametrize("words", ATTACKS, ids=lambda w: repr(w)[:20])
def test_no_sign_means_anything(store: Store, job: Job, words: str):
    assert set(found(store, words)) <= {job.id}


def test_signs_alone_narrow_nothing(store: Store, job: Job):
    assert found(store, '"*') == found(store, " ") == [job.id]


def test_everything_that_is_said_of_a_job_is_found(store: Store, new_job: New):
    other = new_job("something else", "single", "smokes")
    mine = new_job("Müller's twin", "Narrow twin 1100", "dead at 3300, then it kicks")
    store.add_setup(mine.id, "leaner", {"carburettor.1.main_jet": "1.80 mm"}, "two steps, bolt moved")
    pull = store.add_pull_file(mine.id, "A", "a.csv", b"1", settings={"note": "clutch slipped"})
    for words in ("muller", "MÜLLER twin", "110", "kick dead", "leaner", "bolt", "clutch", "3300"):
        assert found(store, words) == [mine.id], words
    assert found(store, "twin smokes") == []
    assert found(store, "something") == [other.id]
    store.remove_pull_file(pull.id)
    assert found(store, "clutch") == []


def test_what_is_no_longer_said_is_not_found(store: Store, job: Job):
    store.edit_job(job.id, complaint="smokes")
    assert found(store, "flat") == []
    assert found(store, "smo") == [job.id]


def test_a_note_that_was_corrected_is_still_found(store: Store, job: Job):
    store.correct_setup(job.id, "A", note="first thought")
    store.correct_setup(job.id, "A", note="second")
    assert found(store, "thought") == found(store, "second") == [job.id]


def test_the_bin_is_searched_apart(store: Store, job: Job):
    store.delete_job(job.id)
    assert found(store, "twin") == []
    assert [line.id for line in store.jobs("twin", binned=True)] == [job.id]


def test_a_shorter_text_that_holds_the_word_comes_first(store: Store, new_job: New):
    long = new_job("the twin with the many words " + "and more of them " * 8, "", "bolt")
    short = new_job("twin", "", "bolt bolt")
    assert found(store, "bolt") == [short.id, long.id]
