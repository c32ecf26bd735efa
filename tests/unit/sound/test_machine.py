"""The sound of the example twin: what must hold whatever the numbers of the engine are."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import read_setup
from pulsewright.errors import InputError, UsageError
from pulsewright.kernel.layout import TRACE_STEPS
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import Options
from pulsewright.simulate.cycle import run_cycle
from pulsewright.simulate.settle import settle
from pulsewright.sound.listen import Listening, differences, listen, sweep_speeds
from pulsewright.sound.open_ends import EXHAUST, INTAKE, Recording, at_the_end, record
from pulsewright.sound.record_speeds import FINE

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
RPM = 3500.0
MUFFLED = """[
  { piece = "pipe", length = "550 mm", bore = "43 mm", wall = "single", bends = [80, 40] },
  { piece = "muffler", body_length = "350 mm", body_bore = "110 mm", core_bore = "30 mm", core = "baffled" },
  { piece = "pipe", length = "60 mm", bore = "38 mm" },
  { piece = "end", kind = "open" } ]"""


def muffled_twin() -> Setup:
    return read_setup(TWIN, [(f"exhaust.route.{n}", MUFFLED) for n in (1, 2)])


@pytest.fixture(scope="module")
def case() -> Case:
    """The twin settled at one speed."""
    case = build_case(read_setup(TWIN), Options(grid=FINE), RPM)
    settle(case, RPM)
    return case


@pytest.fixture(scope="module")
def recording(case: Case) -> Recording:
    return record(case, RPM)


@pytest.fixture(scope="module")
def pair() -> list[Listening]:
    """The twin as it is and with a baffled muffler in each pipe."""
    return listen([read_setup(TWIN), muffled_twin()], [2400.0, RPM])


def test_every_end_is_heard_and_the_case_is_left_alone(case: Case):
    before = {name: rows.copy() for name, rows in case.arrays.items()}
    ends = record(case, RPM).ends
    assert [(end.side, end.number) for end in ends] == [(EXHAUST, 0), (EXHAUST, 1), (INTAKE, 0)]
    for name, rows in before.items():
        np.testing.assert_array_equal(case.arrays[name], rows)


def test_the_flow_repeats_itself(recording: Recording):
    assert recording.repeats < 1e-3
    for end in recording.ends:
        jump = abs(end.flow[0] - end.flow[-1])
        assert jump < 3.0 * np.abs(np.diff(end.flow)).max()


def test_mass_through_the_ends_is_that_of_the_solvers_books(case: Case):
    """The flow that the recording takes from cells, as mass, against what the joints have counted.

    Within 6 %: the gas constant is that of the cycle's last moment, and differs by 3 % between air and mixture.
    """
    traced = case.copy().with_traces()
    run_cycle(traced)
    c = traced.arrays["cells"][0]
    for joint in traced.exhaust.mouth_joints + traced.intake.mouth_joints:
        j = traced.arrays["joints"][joint]
        slots = [int(j["a_cell"]), int(j["a_cell"]) - int(j["a_sign"])]
        p, u, _, T = (traced.arrays["traces"][row][:, slots] for row in range(4))
        area = c["inverse_length"][slots] / c["inverse_volume"][slots]
        flow = at_the_end(j["a_sign"] * p * u * area / (c["R"][slots] * T), 1.0 / c["inverse_length"][slots])
        assert np.mean(flow) * 120.0 / RPM == pytest.approx(j["sum_ab"] - j["sum_ba"], rel=0.06)


def test_hot_gas_pushes_away_more_than_its_own_mass(recording: Recording, case: Case):
    """Room, not mass, is what the air outside feels: the exhaust leaves at 500 to 1100 K, the air is at 298 K."""
    joints = case.arrays["joints"]
    for n, joint in enumerate(case.exhaust.mouth_joints):
        mass = (joints["sum_ab"][joint] - joints["sum_ba"][joint]) * RPM / 120.0
        assert 1.7 < recording.ends[n].flow.mean() / mass < 3.7
    mouth = joints[case.intake.mouth_joints[0]]
    assert recording.ends[2].flow.mean() / ((mouth["sum_ab"] - mouth["sum_ba"]) * RPM / 120.0) == pytest.approx(
        1.0, abs=0.1
    )


def test_even_steps_are_taken_whatever_the_waves_do(case: Case):
    traced = case.copy().with_traces()
    traced.arrays["run"]["steps"] = 100  # as if far too long a step had been enough
    from pulsewright.sound.open_ends import _even_cycle

    _even_cycle(traced, RPM)
    assert int(traced.arrays["run"]["steps"][0]) % TRACE_STEPS == 0
    assert int(traced.arrays["run"]["steps"][0]) > TRACE_STEPS


def test_the_sound_is_a_small_part_of_what_the_engine_does(pair: list[Listening]):
    """Acoustic efficiency of an open exhaust, one ten-thousandth of shaft power or so (common practice)."""
    torque = 110.0  # [N m] about, at 3500 rpm
    share = pair[0].sounds[1].power / (torque * RPM * np.pi / 30.0)
    assert 1e-5 < share < 1e-3


def test_open_pipes_are_as_loud_as_open_pipes_are(pair: list[Listening]):
    """110 to 125 dB(A) beside open pipes (common practice), with our own band on a level around it."""
    assert 104.0 < pair[0].sounds[1].heard["near"].level < 131.0


@pytest.mark.parametrize("place", ["near", "far"])
def test_a_muffler_takes_eight_decibels_at_least(pair: list[Listening], place: str):
    assert max(differences(pair[0], pair[1], place)) < -8.0


def test_both_are_heard_up_to_one_frequency_and_the_parts_add_up(pair: list[Listening]):
    assert len({sound.highest for each in pair for sound in each.sounds}) == 1
    for each in pair:
        for sound in each.sounds:
            for heard in sound.heard.values():
                bands = heard.bands(sound.highest)
                assert np.sum(10.0 ** (0.1 * np.array([level for _, level in bands]))) <= 10.0 ** (0.1 * heard.level)
                both = 10.0 * np.log10(sum(10.0 ** (0.1 * level) for level in heard.by_side.values()))
                assert heard.level < both + 3.1


def test_lines_of_an_uneven_twin_stand_at_half_orders(pair: list[Listening]):
    orders = pair[0].sounds[1].heard["near"].loudest(5)
    assert all((2.0 * line.order).is_integer() for line in orders)
    assert all(line.frequency == pytest.approx(line.order * RPM / 60.0, rel=1e-12) for line in orders)
    assert [line.level for line in orders] == sorted((line.level for line in orders), reverse=True)


def test_an_exhaust_that_never_ends_is_not_heard():
    endless = [(f"exhaust.route.{n}.2.kind", "non-reflecting") for n in (1, 2)]
    with pytest.raises(InputError, match="not heard"):
        listen([read_setup(TWIN, endless)], [RPM])


def test_the_rated_speed_is_the_top_of_the_power_curve(monkeypatch: pytest.MonkeyPatch):
    from pulsewright.simulate.predict import predict
    from pulsewright.sound import stationary_speed

    twin = read_setup(TWIN)
    speeds = [4400.0, 4700.0, 5000.0, 5300.0, 5600.0]
    power = predict(twin, speeds).power_kw
    assert stationary_speed.rated_speed(twin) == pytest.approx(speeds[int(np.argmax(power))], rel=0.07)
    monkeypatch.setattr(stationary_speed, "LOOKED_AT", (1500.0, 2000.0, 2500.0))
    with pytest.raises(UsageError, match="no top"):
        stationary_speed.rated_speed(twin)


def test_speeds_of_a_sweep_are_close_together():
    speeds = sweep_speeds(6000.0, 2000.0)
    assert speeds[0] == 2000.0
    assert speeds[-1] == 6000.0
    assert max(b / a for a, b in pairwise(speeds)) <= 1.04 + 1e-12
