"""How often findings are right: healthy and faulty days by the hundred, with the truth known (dyno_days.py).

Any finding in a healthy day is a false one. The sizes below are the smallest tried at which at least 95 % of
200 days with that fault have it found; what a size means is said with the fault. The slow tests show it, the
fast ones look at a few days. Drift of 2 % a pull is found in 91 %: where all pulls of one setup come before all
of the other, setup and drift can hardly be told apart, and most of the misses are there.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import pytest
from tests import dyno_days as days

from pulsewright.bench.session import read_session
from pulsewright.pulls.session_pulls import read_session_pulls

MOST_FALSE = 0.02
LEAST_FOUND = 0.95


@dataclass(frozen=True, kw_only=True)
class Case:
    kind: str
    fault: days.Fault
    size: float


CASES = (
    Case(kind="slip", fault=days.slipping, size=0.015),
    Case(kind="slip", fault=days.slipping_once, size=0.015),
    Case(kind="pick-up", fault=days.miscounting, size=0.15),
    Case(kind="pick-up", fault=days.doubled, size=2.0),
    Case(kind="pick-up", fault=days.doubled, size=0.5),
    Case(kind="pick-up", fault=days.doubled_stretch, size=0.15),
    Case(kind="fuel starvation", fault=days.starving, size=0.08),
    Case(kind="fuel starvation", fault=days.starving_by_rate, size=0.10),
    Case(kind="heat soak", fault=days.soaking, size=17.0),
    Case(kind="drift", fault=days.drifting, size=0.03),
    Case(kind="misfire", fault=days.missing, size=0.05),
    Case(kind="misfire", fault=days.missing, size=0.5),
    Case(kind="odd pull", fault=days.odd, size=0.10),
    Case(kind="weather change", fault=days.warming_air, size=7.0),
)
each_case = pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.fault.__name__} {c.size:g}")


@pytest.fixture(autouse=True)
def findings_only(monkeypatch):
    """Holes and comparisons take most of the time and have no part in findings."""
    monkeypatch.setattr("pulsewright.pulls.setup_curves.find_hole", lambda *_args, **_more: None)
    monkeypatch.setattr("pulsewright.pulls.session_pulls.compare_curves", lambda *_args, **_more: None)


def _kinds(folder: Path, day: days.Day) -> set[str]:
    return {f.kind for f in read_session_pulls(read_session(day.write(folder))).findings}


def _false_share(folder: Path, seeds: range) -> float:
    raised = {seed: kinds for seed in seeds if (kinds := _kinds(folder / str(seed), days.healthy_day(seed)))}
    print(f"healthy: {len(raised)} of {len(seeds)} with a false finding: {raised}")
    return len(raised) / len(seeds)


def _found_share(folder: Path, seeds: Iterable[int], case: Case) -> float:
    found = [case.kind in _kinds(folder / str(s), days.faulty_day(s, case.fault, case.size)) for s in seeds]
    print(f"{case.kind}, {case.fault.__name__} {case.size:g}: found in {sum(found)} of {len(found)}")
    return sum(found) / len(found)


def test_few_healthy_days_raise_anything(tmp_path):
    assert _false_share(tmp_path, range(12)) == 0.0


@each_case
def test_faults_of_a_stated_size_are_found(tmp_path, case):
    assert _found_share(tmp_path, (3, 4), case) == 1.0


@pytest.mark.slow
def test_at_most_2_percent_of_500_healthy_days_raise_anything(tmp_path):
    assert _false_share(tmp_path, range(500)) <= MOST_FALSE


@pytest.mark.slow
@each_case
def test_at_least_95_percent_of_200_faults_are_found(tmp_path, case):
    assert _found_share(tmp_path, range(200), case) >= LEAST_FOUND
