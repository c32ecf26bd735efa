"""Convergence of many jobs side by side, on a stand-in for the card that marches on the processor."""

from pathlib import Path

import numpy as np
import pytest
from tests.unit.gpu.small_cases import LONG_CELLS, small_cases

from pulsewright.bench.sheet import read_setup
from pulsewright.bench.throttle import with_throttle
from pulsewright.errors import UsageError
from pulsewright.gpu import settle_many as module
from pulsewright.gpu import sweep_many as sweeping
from pulsewright.gpu.batch import MEANS, Batch, Job
from pulsewright.gpu.settle_many import settle_many
from pulsewright.gpu.sweep_many import sweep_many
from pulsewright.network.case import build_case
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.simulate.carried_state import believable, carried_state, clip, lay_state, plus
from pulsewright.simulate.cycle import run_cycle, set_speed
from pulsewright.simulate.outcome import BY_TURNS, CONVERGED, CYCLE_LIMIT, FAILED
from pulsewright.simulate.settle import Tolerance, settle, small_torque_of
from pulsewright.simulate.sweep import sweep

RPM = 3000.0
EXAMPLE = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"


class OnProcessor:
    """What `gpu.batch.Batch` shows to `settle_many`."""

    def __init__(self, cases, jobs):
        self.cases, self.jobs = cases, jobs
        self.design_of = np.array([job.design for job in jobs])
        self.twins = [cases[job.design].copy() for job in jobs]
        self.runs = np.zeros(len(jobs), dtype=int)
        self.drawn: list[int] = []
        for twin, job in zip(self.twins, jobs, strict=True):
            set_speed(twin, job.rpm)

    def run_cycle(self, order):
        assert list(order) == sorted(order, key=lambda n: self.jobs[n].rpm), "the slowest job runs longest"
        for n in order:
            run_cycle(self.twins[n])
            self.runs[n] += 1

    def table(self, name, rows=None):
        tables = [twin.arrays[name] for twin in self.twins]
        padded = np.zeros((len(tables), max(table.size for table in tables)), dtype=tables[0].dtype)
        for row, table in zip(padded, tables, strict=True):
            row[: table.size] = table
        return padded if rows is None else padded[rows]

    def means(self, rows):
        return self.table("cells", rows)[list(MEANS)]  # pyright: ignore[reportArgumentType, reportCallIssue]

    def watched(self, rows):
        cells = self.table("cells", rows)
        fuel = cells["mean_fuel"].reshape(len(rows), -1)  # pyright: ignore[reportArgumentType, reportCallIssue]
        return {"cylinders": self.table("cylinders", rows), "run": self.table("run", rows), "mean_fuel": fuel}

    def draw(self, targets, sources, weights):
        for target, around, shares in zip(targets, sources, weights, strict=True):
            states = [carried_state(self.twins[n]) for n in around]
            mixed = states[0]
            for state, share in zip(states, shares, strict=True):
                mixed = plus(mixed, share, state, states[0])
            if believable(mixed, states[0]):
                clip(mixed)
            else:
                mixed = states[0]
            lay_state(self.twins[target], mixed)
            self.drawn.append(int(target))

    case_after = Batch.case_after


@pytest.fixture(autouse=True)
def _on_processor(monkeypatch):
    monkeypatch.setattr(module, "Batch", OnProcessor)
    monkeypatch.setattr(sweeping, "open_card", lambda: None)


def test_every_job_ends_where_it_would_alone():
    cases = small_cases(RPM)
    jobs = [Job(0, 4000.0), Job(2, RPM), Job(0, RPM)]
    result = settle_many(cases, jobs)
    assert result.outcome == [CONVERGED] * 3
    assert isinstance(result.batch, OnProcessor)
    assert list(result.cycles) == list(result.batch.runs)
    for job, torque, left in zip(jobs, result.torque, result.torque_left, strict=True):
        alone = settle(small_cases(RPM)[job.design], job.rpm)
        assert torque == pytest.approx(alone.torque, rel=2.0 * Tolerance().torque)
        assert left < 0.2


def test_on_a_full_card_speeds_between_are_drawn_and_end_where_they_would_from_rest(monkeypatch):
    speeds = [float(rpm) for rpm in np.linspace(2500.0, 4000.0, 9)]
    case = small_cases(RPM)[0]
    jobs = [Job(0, rpm) for rpm in speeds[::-1]]
    by_themselves = settle_many([case], jobs)
    monkeypatch.setattr(module, "ALONE", 1)
    drawn = settle_many([case], jobs)
    assert isinstance(drawn.batch, OnProcessor)
    assert sorted(drawn.batch.drawn) == [1, 2, 3, 5, 6, 7]
    assert drawn.outcome == by_themselves.outcome == [CONVERGED] * 9
    assert list(drawn.cycles) == list(drawn.batch.runs)
    assert drawn.cycles.sum() < 0.85 * by_themselves.cycles.sum()
    assert drawn.torque == pytest.approx(by_themselves.torque, rel=2.0 * Tolerance().torque)


def test_where_every_neighbour_fails_a_speed_starts_by_itself(monkeypatch):
    monkeypatch.setattr(module, "ALONE", 1)
    case = small_cases(RPM)[0]
    case.arrays["cells"]["energy"][:] = np.nan
    result = settle_many([case], [Job(0, rpm) for rpm in (2600.0, 2800.0, 3000.0, 3200.0, 3400.0)])
    assert result.outcome == [FAILED] * 5
    assert isinstance(result.batch, OnProcessor)
    assert result.batch.drawn == []


def test_a_job_that_fails_leaves_the_others_alone():
    cases = small_cases(RPM)
    cases[1].arrays["cells"]["energy"][:] = np.nan
    result = settle_many(cases, [Job(0, RPM), Job(1, RPM)])
    assert result.outcome == [CONVERGED, FAILED]
    assert np.isfinite(result.torque[0])
    assert np.isnan(result.torque[1])
    assert result.cycles[1] == 1


def test_strong_and_weak_cycles_by_turns_end_with_their_mean():
    machine = with_throttle(read_setup(EXAMPLE), 0.08)
    result = settle_many([build_case(machine, Options(), 1750.0)], [Job(0, 1750.0)], Tolerance(most_cycles=90))
    assert result.outcome == [BY_TURNS]
    assert result.cycles[0] < 90
    assert isinstance(result.batch, OnProcessor)
    after = [run_cycle(result.batch.twins[0]).torque for _ in range(6)]
    assert np.ptp(after) > 0.1 * small_torque_of(machine)
    assert result.torque[0] == pytest.approx(np.mean(after), abs=2e-3 * small_torque_of(machine))
    assert result.torque_left[0] >= 1e-3 * small_torque_of(machine)


def test_what_does_not_settle_ends_at_the_cycle_limit_with_a_mean():
    result = settle_many(small_cases(RPM), [Job(0, RPM)], Tolerance(torque=1e-15, most_cycles=4))
    assert result.outcome == [CYCLE_LIMIT]
    assert result.cycles[0] == 4
    assert np.isfinite(result.torque[0])


def test_it_can_be_stopped():
    with pytest.raises(KeyboardInterrupt):
        settle_many(small_cases(RPM), [Job(0, RPM)], stopped=lambda: True)


def test_a_sweep_gives_what_the_processor_gives():
    """Three setups of unlike size at two speeds, in the order asked for, with all that is read of the last cycle."""
    setups = [case.setup for case in small_cases(RPM)[1:]]
    found = sweep_many(setups, [4000.0, RPM], Options(grid=LONG_CELLS))
    for setup, points in zip(setups, found, strict=True):
        for point, alone in zip(points, sweep(setup, [4000.0, RPM], Options(grid=LONG_CELLS)), strict=True):
            assert (point.rpm, point.outcome) == (alone.rpm, CONVERGED)
            for name in ("torque", "volumetric_efficiency", "lambda_delivered", "exhaust_temperature", "residual"):
                assert getattr(point, name) == pytest.approx(getattr(alone, name), rel=5e-3), name
            assert point.lambda_sensor == pytest.approx(alone.lambda_sensor, rel=5e-3)


def test_ends_that_need_a_sweep_before_the_sweep_are_refused():
    with pytest.raises(UsageError, match="as built"):
        sweep_many([small_cases(RPM)[0].setup], [RPM], Options(exhaust_ends=NON_REFLECTING))
