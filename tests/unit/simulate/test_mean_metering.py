"""The carburettor on the mean air flow: the suction is that of a steady stream."""

from pathlib import Path

import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.network.case import build_case
from pulsewright.network.metering import VENTURI_CD
from pulsewright.network.options import Options
from pulsewright.simulate.settle import settle
from pulsewright.simulate.speed_point import speed_point

SHEET = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
RPM = 3500.0


def test_suction_is_the_dynamic_head_of_the_mean_flow():
    setup = read_setup(SHEET)
    case = build_case(setup, Options(grid=2.0, mean_metering=True), RPM)
    point = speed_point(case, RPM, settle(case, RPM))
    row = case.arrays["carburettors"][0]
    throat = VENTURI_CD * 0.25 * 3.14159265 * setup.carburettors[0].venturi ** 2
    head = row["mean_flow"] ** 2 / (2.0 * row["air_density"] * throat**2)  # Bernoulli; compressibility adds under 1 %
    assert point.mean_suction[0] == pytest.approx(head, rel=0.02)


def test_pulsation_draws_more_fuel_than_the_mean_flow():
    """Common practice and physics: from infinite inertia of the fuel to none, 1 to 2.2 times, reversal on top."""
    setup = read_setup(SHEET)
    lambdas = []
    for mean in (True, False):
        case = build_case(setup, Options(grid=2.0, mean_metering=mean), RPM)
        lambdas.append(speed_point(case, RPM, settle(case, RPM)).lambda_delivered)
    assert 1.2 < lambdas[0] / lambdas[1] < 3.5
