"""Forecasts lay the model's change on what was measured; gates refuse what could pass them."""

from typing import Any

import numpy as np
import pytest
from tests.cheap_machine import curves, reference

from pulsewright.remedies.forecast import forecast
from pulsewright.remedies.gates import KNOCK, LEAN, NO_ANSWER, UNKNOWN, refusals
from pulsewright.remedies.trials import TrialCurves

ZERO = np.zeros(4)


def found(after: TrialCurves, *, bias: np.ndarray = ZERO, **of_reference):
    ref = reference(**of_reference)
    f = forecast(ref, curves(), after, bias)
    return f, [r.gate for r in refusals(ref, f)]


def test_a_change_that_does_nothing_gains_nothing_and_passes():
    f, gates = found(curves())
    assert f.gain.value == pytest.approx(0.0, abs=1e-9)
    assert f.gain.low < 0.0 < f.gain.high
    assert f.hole.value == pytest.approx(0.15, abs=0.005)
    assert f.hole_rpm == pytest.approx(3000.0, abs=51.0)
    assert f.knock.value == pytest.approx(0.0, abs=1e-9)
    assert gates == []


def test_what_the_model_gets_wrong_of_the_machine_falls_out():
    ref = reference()
    scaled: dict[str, Any] = {"torque": 0.7, "sensor": 1.1, "leanest": 1.1, "knock": 1.6}
    plain = forecast(ref, curves(), curves(torque=1.05, sensor=1.02, leanest=1.02, knock=1.03), ZERO)
    after: dict[str, Any] = {"torque": 0.7 * 1.05, "sensor": 1.1 * 1.02, "leanest": 1.1 * 1.02, "knock": 1.6 * 1.03}
    wrong = forecast(ref, curves(**scaled), curves(**after), ZERO)
    assert wrong.gain == plain.gain
    assert wrong.lean_high == pytest.approx(plain.lean_high)
    assert wrong.knock == plain.knock
    assert plain.gain.value == pytest.approx(5.0)


def test_a_cured_hole_is_seen_at_its_place():
    rpm = curves().rpm
    f, _ = found(curves(torque=1.0 + 0.17 * np.exp(-(((rpm - 3000.0) / 320.0) ** 2))))
    assert f.bottom is not None
    assert f.bottom.value > 12.0
    assert f.hole.value < 0.06
    assert abs(f.top.value) < 0.1


def test_the_leanest_cylinder_counts_and_not_the_sensor():
    f, gates = found(curves(), mixture=0.86)
    assert f.leanest is not None
    assert f.leanest.value == pytest.approx(0.86 * 0.85 / 0.84)  # model: leanest 0.85 where the sensor reads 0.84
    assert gates == []
    assert found(curves(leanest=1.04), mixture=0.86)[1] == [LEAN]


def test_a_sensor_that_reads_low_moves_lambda_up():
    assert found(curves(), mixture=0.86, bias=np.full(4, -0.04))[1] == [LEAN]
    assert found(curves(), mixture=0.86, bias=np.full(4, 0.04))[1] == []


@pytest.mark.parametrize(("gate", "gates"), [(0.92, [LEAN]), (0.95, [])])
def test_the_lean_gate_is_that_of_the_cooling(gate: float, gates: list[str]):
    assert found(curves(), mixture=0.89, gate=gate)[1] == gates


def test_one_lean_speed_above_the_pulls_is_enough():
    rpm = curves().rpm
    lean_end = np.where(rpm > 6100.0, 1.15, 1.0)
    f, gates = found(curves(leanest=lean_end))
    assert gates == [LEAN]
    assert f.leanest_rpm is not None
    assert f.leanest_rpm > 6000.0


def test_unknown_lambda_is_never_leaned_nor_recommended():
    assert UNKNOWN in found(curves(), known=False)[1]
    hole_in_reading = np.ones(87, dtype=bool)
    hole_in_reading[40:50] = False
    assert UNKNOWN in found(curves(), known=hole_in_reading)[1]


def test_knock_is_judged_against_the_machine_as_it_is():
    assert found(curves(knock=1.0))[1] == []
    assert found(curves(knock=1.06))[1] == [KNOCK]
    ref = reference()
    near_knock = forecast(ref, curves(knock=1.8), curves(knock=1.8), ZERO)  # an absolute margin below 0
    assert [r.gate for r in refusals(ref, near_knock)] == []
    far_off = forecast(ref, curves(knock=0.3), curves(knock=0.4), ZERO)  # 0.32 of the integral: safe by far
    assert [r.gate for r in refusals(ref, far_off)] == []


def test_what_another_setup_has_stood_of_knock_is_no_news():
    """An engine that runs far too rich may go as near to knock as it was already pulled with leaner jets."""
    ref, rich, leaner = reference(), curves(knock=0.9), curves(knock=1.15)
    assert [r.gate for r in refusals(ref, forecast(ref, rich, leaner, ZERO))] == [KNOCK]
    stood = leaner.knock
    assert [r.gate for r in refusals(ref, forecast(ref, rich, leaner, ZERO, stood))] == []
    assert [r.gate for r in refusals(ref, forecast(ref, rich, curves(knock=1.3), ZERO, stood))] == [KNOCK]
    nothing = np.full(rich.knock.shape, np.nan)
    assert [r.gate for r in refusals(ref, forecast(ref, rich, leaner, ZERO, nothing))] == [KNOCK]


def test_more_filling_where_the_hole_was_may_stay_below_the_worst_speed():
    rpm = curves().rpm
    shape = np.where(rpm < 2700.0, 1.0, 0.6)
    after = np.where((rpm > 2700.0) & (rpm < 3300.0), 0.85, shape)
    ref = reference()
    f = forecast(ref, curves(knock=shape), curves(knock=after), ZERO)
    assert [r.gate for r in refusals(ref, f)] == []


def test_a_speed_without_an_answer_is_refused():
    broken = np.ones((4, 14))
    broken[2, 5] = np.nan
    assert NO_ANSWER in found(curves(torque=broken))[1]


def test_few_draws_are_not_taken_for_certain():
    ref = reference()
    one = forecast(ref, curves(1), curves(1), np.zeros(1))
    many = forecast(ref, curves(30), curves(30), np.zeros(30))
    assert one.gain.high > 1.5 * many.gain.high
