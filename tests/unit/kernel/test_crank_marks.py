"""Spark and intake closing happen at their own crank angle, wherever the step begins that they fall in.

Expected values are the closed formula of gas squeezed without loss, p V^gamma = const, in any text on
thermodynamics; the volumes are those of the slider-crank.
"""

import pytest
from tests.trade.generic_twin import OPEN, pipe, route, twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.kernel.cylinder import turn_crank
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.physics.slider_crank import cylinder_volume
from pulsewright.simulate.cycle import run_cycle, set_speed

RPM, STEP = 3000.0, 0.7
LATE = [0.0, 0.2, 0.69]  # degrees from the start of the step to the mark
REFERENCE_P, REFERENCE_T = 1.2e6, 700.0  # Pa, K at the mark


@pytest.fixture
def case():
    built = build_case(setup_from_text(twin(route(pipe(0.6), OPEN)), "twin"), Options(grid=3.0), RPM)
    set_speed(built, RPM)
    run_cycle(built)
    return built


def turn_over(case, mark: float, late: float):
    """Cylinder 1 after a step over `mark` that begins `late` degrees before it, gas squeezed without loss there."""
    a = case.arrays
    y = a["cylinders"][0]
    r = a["reservoirs"][y["reservoir"]]
    size = (y["bore"], y["stroke"], y["rod"], y["compression_ratio"])
    r["volume"] = cylinder_volume(mark - late, *size)
    squeezed = cylinder_volume(mark, *size) / r["volume"]
    r["p"] = REFERENCE_P * squeezed ** r["gamma"]
    r["T"] = REFERENCE_T * squeezed ** (r["gamma"] - 1.0)
    y["burning"], y["induction"] = 0, 0.0
    turn_crank(a["cells"][0], y, r, (mark - late - y["phase"]) % 720.0, STEP, STEP / (6.0 * RPM))
    return y


@pytest.mark.parametrize("late", LATE)
def test_the_burn_begins_with_the_gas_of_the_spark(case, late: float):
    y = turn_over(case, 720.0 - case.arrays["cylinders"][0]["spark"], late)
    assert y["spark_p"] == pytest.approx(REFERENCE_P, rel=1e-9)
    assert y["spark_T"] == pytest.approx(REFERENCE_T, rel=1e-9)
    assert y["since"] == pytest.approx(STEP - late, abs=1e-9)


@pytest.mark.parametrize("late", LATE)
def test_motoring_pressure_starts_from_the_gas_at_intake_closing(case, late: float):
    closes = case.arrays["cylinders"][0]["intake_closes"]
    y = turn_over(case, closes, late)
    size = (y["bore"], y["stroke"], y["rod"], y["compression_ratio"])
    assert y["close_V"] == pytest.approx(cylinder_volume(closes, *size), rel=1e-12)
    assert y["close_p"] == pytest.approx(REFERENCE_P, rel=1e-9)
    assert y["close_T"] == pytest.approx(REFERENCE_T, rel=1e-9)


def test_burn_and_knock_of_a_step_hang_on_the_degrees_after_the_spark(case):
    """Twice the degrees after the spark: twice the way to self-ignition."""
    mark = 720.0 - case.arrays["cylinders"][0]["spark"]
    induction = [float(turn_over(case, mark, STEP - after)["induction"]) for after in (0.001, 0.002)]
    assert induction[1] == pytest.approx(2.0 * induction[0], rel=1e-3)
    assert induction[0] > 0.0
