"""How often findings are right: healthy and faulty sessions by the hundred, with the truth known.

A healthy session is six pulls of two setups with the habits of common practice: gain scatter 0.7 %, bin noise
0.4 %, up to 3 % of samples dropped or doubled by the clamp, 0.5 % slip, a head that warms by 6 K. Any finding
in it is a false one. A faulty session is the same with one fault of the size stated beside it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from tests.pull_logs import Log, day, write_session

from pulsewright.bench.session import read_session
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.session_pulls import read_session_pulls

JETS = '[ ["carburettor.1.main_jet", "1.45 mm"] ]'
Columns = dict[str, np.ndarray]
MOST_FALSE = 0.02
LEAST_FOUND = 0.95


def _peaky(rpm: np.ndarray) -> np.ndarray:
    return 50.0 - 30.0 * ((rpm - 3800.0) / 2000.0) ** 2


def _session(seed: int, log: Log) -> tuple[list[tuple[str, Columns]], list[float]]:
    random = np.random.default_rng(50_000 + seed)
    pulls = [(s, each.columns()) for s, each in day("AAABBB", log=log, seed=seed)]
    for _, columns in pulls:
        bad = random.random(columns["rpm"].size) < random.uniform(0.0, 0.03)
        columns["rpm"][bad] *= random.choice([0.0, 2.0], size=int(bad.sum()))
    heads = list(np.linspace(163.0, 169.0, 6) + random.normal(0.0, 1.0, 6))
    return pulls, heads


def _healthy(pulls: list[tuple[str, Columns]], heads: list[float], random: np.random.Generator) -> None:
    return None


def _pickup(pulls, heads, random):
    columns = pulls[random.integers(6)][1]
    bad = random.random(columns["rpm"].size) < 0.12
    columns["rpm"][bad] *= random.choice([0.0, 0.5, 2.0], size=int(bad.sum()))


def _starving(pulls, heads, random):
    columns = pulls[random.integers(6)][1]
    late = np.clip((columns["rpm"] - 4000.0) / 2000.0, 0.0, 1.0)
    columns["lambda"] += 0.20 * late
    columns["torque"] *= 1.0 - 0.12 * late


def _soaking(pulls, heads, random):
    for k, (_, columns) in enumerate(pulls):
        heads[k] += 8.0 * k
        columns["torque"] *= 1.0 - 0.03 * k / 5.0


@dataclass(frozen=True, kw_only=True)
class Case:
    kind: str
    size: str
    log: Log
    fault: Callable


CASES = (
    Case(kind="slip", size="3.5 % at most torque, falling with torque", log=Log(torque=_peaky, slip=0.035),
         fault=_healthy),
    Case(kind="pick-up", size="12 % of the samples of one pull", log=Log(slip=0.005), fault=_pickup),
    Case(kind="fuel starvation", size="one pull: to 0.20 leaner and 12 % weaker at 6000 rpm",
         log=Log(slip=0.005), fault=_starving),
    Case(kind="heat soak", size="head 40 K hotter over the day, torque 3 % lower", log=Log(slip=0.005),
         fault=_soaking),
)  # fmt: skip


def _findings(folder: Path, seed: int, log: Log, fault: Callable) -> tuple[Finding, ...]:
    pulls, heads = _session(seed, log)
    fault(pulls, heads, np.random.default_rng(90_000 + seed))
    path = write_session(folder / str(seed), pulls, changes={"B": JETS}, heads=heads)
    return read_session_pulls(read_session(path)).findings


def _false_share(folder: Path, seeds: range) -> float:
    raised = [{f.kind for f in _findings(folder, seed, Log(slip=0.005), _healthy)} for seed in seeds]
    wrong = [kinds for kinds in raised if kinds]
    print(f"healthy: {len(wrong)} of {len(seeds)} with a false finding: {wrong}")
    return len(wrong) / len(seeds)


def _found_share(folder: Path, seeds: range, case: Case) -> float:
    found = [case.kind in {f.kind for f in _findings(folder, s, case.log, case.fault)} for s in seeds]
    print(f"{case.kind}, {case.size}: found in {sum(found)} of {len(seeds)}")
    return sum(found) / len(seeds)


def test_few_healthy_sessions_raise_anything(tmp_path):
    assert _false_share(tmp_path, range(12)) == 0.0


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.kind)
def test_faults_of_a_stated_size_are_found(tmp_path, case):
    assert _found_share(tmp_path, range(3), case) == 1.0


@pytest.mark.slow
def test_at_most_2_percent_of_500_healthy_sessions_raise_anything(tmp_path):
    assert _false_share(tmp_path, range(500)) <= MOST_FALSE


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.kind)
def test_at_least_95_percent_of_200_faults_are_found(tmp_path, case):
    assert _found_share(tmp_path, range(200), case) >= LEAST_FOUND
