from datetime import timedelta

import pytest

from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError, UsageError
from pulsewright.records.jobs import Job
from pulsewright.records.setups import SetupRow
from pulsewright.records.store import Store

JET = "carburettor.1.main_jet"


def says(row: SetupRow) -> tuple:
    return row.name, row.version, row.based_on, row.changes


def test_a_setup_is_a_change_against_the_newest_one(store: Store, job: Job):
    store.add_setup(job.id, "B", {JET: "1.80 mm"}, "leaner")
    store.add_setup(job.id, "C", {"carburettor.1.main_air_bleed": "1.10 mm"})
    store.add_setup(job.id, "D", {JET: "2.00 mm"}, based_on="A")
    assert [says(row) for row in store.setups(job.id)] == [
        ("A", 1, None, ()),
        ("B", 1, "A", ((JET, "1.80 mm"),)),
        ("C", 1, "B", (("carburettor.1.main_air_bleed", "1.10 mm"),)),
        ("D", 1, "A", ((JET, "2.00 mm"),)),
    ]
    built = setup_from_text(store.setup_text(job.id, "C"), "C").carburettors[0]
    assert built.main_jet == pytest.approx(1.80e-3)
    assert built.main_air_bleed == pytest.approx(1.10e-3)


def test_every_state_stays(store: Store, job: Job, sheet: str):
    store.add_setup(job.id, "B", {JET: "1.80 mm"}, "leaner")
    store.correct_setup(job.id, "B", changes={JET: "1.75 mm"})
    store.correct_setup(job.id, "B", note="much leaner")
    other = sheet.replace('bore = "96', 'bore = "95', 1)
    store.correct_setup(job.id, "A", sheet_text=other)
    states = [(row.name, row.version, row.changes, row.note) for row in store.setup_history(job.id, "B")]
    assert states == [
        ("B", 1, ((JET, "1.80 mm"),), "leaner"),
        ("B", 2, ((JET, "1.75 mm"),), "leaner"),
        ("B", 3, ((JET, "1.75 mm"),), "much leaner"),
    ]
    assert [row.sheet_text for row in store.setup_history(job.id, "A")] == [sheet, other]
    assert [row.version for row in store.setups(job.id)] == [2, 3]


def test_a_clock_that_was_put_back_changes_nothing(store: Store, job: Job, monkeypatch: pytest.MonkeyPatch):
    with monkeypatch.context() as yesterday:
        yesterday.setattr("pulsewright.records.setups.now", lambda: job.made - timedelta(days=1))
        store.correct_setup(job.id, "A", note="later, by an older clock")
    assert [(row.version, row.note) for row in store.setups(job.id)] == [(2, "later, by an older clock")]


def test_what_builds_on_a_corrected_sheet_follows_it(store: Store, job: Job, sheet: str):
    store.add_setup(job.id, "B", {JET: "1.80 mm"})
    store.correct_setup(job.id, "A", changes={"engine.compression_ratio": 8.8})
    assert setup_from_text(store.setup_text(job.id, "B"), "B").engine.compression_ratio == 8.8


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [({"carburettor.1.mainjet": "1 mm"}, "no path"), ({JET: "1 m"}, "allowed"), ({JET: "nonsense"}, "main_jet")],
)
def test_a_change_that_cannot_be_made_is_kept_nowhere(store: Store, job: Job, changes: dict, complaint: str):
    with pytest.raises(InputError, match=complaint):
        store.add_setup(job.id, "B", changes)
    assert [row.name for row in store.setups(job.id)] == ["A"]


def test_a_correction_that_would_break_another_setup_is_refused(store: Store, job: Job):
    store.correct_setup(
        job.id, "A",
        changes=[("exhaust.route.1", [
            {"piece": "pipe", "length": "900 mm", "bore": "43 mm"},
            {"piece": "plate", "width": "12 mm", "angle": "90 deg", "from_end": "40 mm"},
            {"piece": "end", "kind": "open"},
        ])],
    )  # fmt: skip
    store.add_setup(job.id, "B", {"exhaust.route.1.2.width": "14 mm"})
    with pytest.raises(InputError, match="width"):
        store.correct_setup(job.id, "A", changes=[])
    assert store.setups(job.id)[0].version == 2


def test_names_are_taken_once(store: Store, job: Job):
    with pytest.raises(InputError, match="already"):
        store.add_setup(job.id, "A", {})


def test_only_a_setup_of_its_own_takes_a_sheet(store: Store, job: Job, sheet: str):
    store.add_setup(job.id, "B", {JET: "1.80 mm"})
    with pytest.raises(UsageError, match="no sheet"):
        store.correct_setup(job.id, "B", sheet_text=sheet)


def test_an_unknown_setup_gets_the_nearest_name(store: Store, job: Job):
    store.add_setup(job.id, "leaner", {JET: "1.80 mm"})
    with pytest.raises(InputError) as caught:
        store.setup_text(job.id, "leener")
    assert "leaner" in str(caught.value.hint)
