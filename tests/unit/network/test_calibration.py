"""Every coefficient of a calibration reaches the model, in the direction its name says."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.exhaust import Pipe
from pulsewright.bench.sheet import read_setup
from pulsewright.network.calibration import NOMINAL, Calibration, trim_of
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.simulate.settle import settle
from pulsewright.simulate.speed_point import SpeedPoint, speed_point

SHEET = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
RPM = 4000.0


def point(**coefficients) -> SpeedPoint:
    options = Options(grid=2.0, calibration=Calibration(**coefficients))
    case = build_case(read_setup(SHEET), options, RPM)
    return speed_point(case, RPM, settle(case, RPM))


@pytest.fixture(scope="module")
def nominal() -> SpeedPoint:
    return point()


def test_more_friction_costs_in_proportion(nominal):
    rougher = point(friction=1.2)
    assert rougher.friction_torque == pytest.approx(1.2 * nominal.friction_torque, rel=1e-3)
    assert rougher.indicated_torque == pytest.approx(nominal.indicated_torque, rel=1e-3)


@pytest.mark.parametrize(
    "coefficients", [{"main_jet": 1.1}, {"nozzle_suction": 1.2}, {"bleed": 0.7}, {"mixture_trim": ((2000.0, 1.1),)}]
)
def test_more_fuel_or_less_bleed_runs_richer(nominal, coefficients):
    assert point(**coefficients).lambda_trapped < 0.97 * nominal.lambda_trapped


@pytest.mark.parametrize("name", ["burn", "intake_flow", "exhaust_flow", "column", "intermediate_jet"])
def test_the_coefficient_moves_something(nominal, name):
    moved = point(**{name: 0.8})
    change = (
        moved.indicated_torque / nominal.indicated_torque - 1.0,
        moved.lambda_trapped / nominal.lambda_trapped - 1,
    )
    assert np.max(np.abs(change)) > 0.003


@pytest.mark.parametrize("coefficients", [{"pipe_heat": 2.0}, {"wall_warmth": 0.0}])
def test_pipes_that_take_more_heat_are_cooler(nominal, coefficients):
    # the gas at the flange has hardly met the pipe; what comes back along it has
    assert abs(point(**coefficients).indicated_torque / nominal.indicated_torque - 1.0) > 1e-4


def test_fuel_that_is_lost_in_front_of_the_mouth_leans(nominal):
    assert point(kept_fuel=0.0).lambda_trapped > nominal.lambda_trapped


def test_a_rich_mixture_costs_what_the_engine_says():
    """A rich engine gains from a smaller cost; where its limit lies above its mixture, cycles are missed."""
    published = point(main_jet=1.15)
    assert 0.62 < published.lambda_trapped < 0.70
    milder, missing = point(main_jet=1.15, rich_cost=0.5), point(main_jet=1.15, rich_limit=0.68)
    assert milder.indicated_torque > 1.03 * published.indicated_torque
    assert missing.indicated_torque < 0.9 * published.indicated_torque


def test_the_rich_coefficients_leave_the_best_mixture_alone(nominal):
    best = Options(grid=2.0, mixture=0.87, calibration=Calibration(rich_cost=0.5, rich_limit=0.62))
    plain = Options(grid=2.0, mixture=0.87)
    torques = []
    for options in (best, plain):
        case = build_case(read_setup(SHEET), options, RPM)
        torques.append(settle(case, RPM).torque)
    assert torques[0] == pytest.approx(torques[1], rel=1e-6)


def test_the_trim_is_straight_between_speeds_and_level_outside():
    trim = Calibration(mixture_trim=trim_of([2000, 4000], [0.9, 1.1]))
    assert [trim.trim_at(x) for x in (1000, 2000, 3000, 4000, 9000)] == pytest.approx([0.9, 0.9, 1.0, 1.1, 1.1])
    assert NOMINAL.trim_at(3000.0) == 1.0


def test_the_way_of_the_echo_is_the_length_of_port_and_pipe():
    """A way of 1.1 is a tape that reads 1.1 times as much; no cell more or less, so that states carry over."""
    sheet = read_setup(SHEET)
    plain, farther = (
        build_case(sheet, Options(grid=2.0, calibration=Calibration(exhaust_way=w)), RPM) for w in (1, 1.1)
    )
    step = [1.0 / case.arrays["cells"]["inverse_length"][0] for case in (plain, farther)]
    room = [1.0 / np.maximum(case.arrays["cells"]["inverse_volume"][0], 1e-9) for case in (plain, farther)]
    assert step[0].size == step[1].size
    moved = ~np.isclose(step[0], step[1])
    assert np.sum(step[0][moved]) > 1.0  # [m] of two pipes and ports
    np.testing.assert_allclose(step[1][moved], 1.1 * step[0][moved])
    np.testing.assert_allclose(room[1][moved], 1.1 * room[0][moved])
    assert np.sum(step[0][moved]) == pytest.approx(_on_the_sheet(sheet), rel=1e-9)


def _on_the_sheet(sheet) -> float:
    """Length of exhaust ports and pipes. [m]"""
    pipes = sum(p.length for route in sheet.exhaust.route.values() for p in route if isinstance(p, Pipe))
    return pipes + sheet.engine.cylinders * sheet.engine.exhaust_port.length


def test_a_longer_way_does_what_a_longer_pipe_does(nominal):
    """Pipe and port of the sheet stretched by hand, against the coefficient."""
    sheet = read_setup(SHEET)
    port = sheet.engine.exhaust_port
    engine = replace(sheet.engine, exhaust_port=replace(port, length=1.08 * port.length))
    routes = {
        n: tuple(replace(p, length=1.08 * p.length) if isinstance(p, Pipe) else p for p in route)
        for n, route in sheet.exhaust.route.items()
    }
    by_hand = replace(sheet, engine=engine, exhaust=replace(sheet.exhaust, route=routes))
    case = build_case(by_hand, Options(grid=2.0), RPM)
    longer = speed_point(case, RPM, settle(case, RPM))
    change = longer.indicated_torque - nominal.indicated_torque
    assert abs(change) > 0.005 * nominal.indicated_torque
    assert point(exhaust_way=1.08).indicated_torque - nominal.indicated_torque == pytest.approx(change, rel=0.15)
