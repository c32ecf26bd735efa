"""Cylinders, valves and carburettors as rows of the kernel's tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np

from pulsewright.bench.engine import Engine
from pulsewright.bench.setup import Setup
from pulsewright.bench.valve import Valve
from pulsewright.kernel.layout import CARBURETTOR, CYLINDER_DTYPE, DEGREES
from pulsewright.network.assembly import area_of
from pulsewright.network.calibration import NOMINAL, Calibration
from pulsewright.network.gas import Charge
from pulsewright.network.intake_line import IntakePlan
from pulsewright.network.metering import fill_circuits, fill_piston, fill_throat
from pulsewright.physics.fuel import density_at
from pulsewright.physics.lift_curve import seat_timing, valve_lift
from pulsewright.physics.valve_flow import exhaust_area, inlet_area

CHAMBER_WALL = {"air": 470.0, "water": 430.0}  # [K] mean of head, piston and liner, assumed
CHAMBER_HEAT = 1.25  # [-] on the published wall heat, good to 30 %: brings it to a sixth of the fuel's heat, assumed
BURN_DURATION = 62.0  # [deg] whole burn at the reference point of `physics.burn_duration`, assumed
# From rest it takes a cycle until fuel comes. An engine that runs has no such gap, and would need a dozen cycles to
# forget that it had misfired in it. The first cycle that counts is this one.
START_CYCLES = 4
LATENT_FROM_AIR = 0.4  # share of the evaporation heat that the air gives before the valve, rest from walls, assumed


def lift_curve(valve: Valve) -> tuple[np.ndarray, np.ndarray]:
    """Crank degrees after firing top dead centre (1441,) and lift [m] of one valve."""
    degrees = np.linspace(0.0, 720.0, DEGREES + 1)
    if valve.lift_table:
        at = np.array([row[0] for row in valve.lift_table])
        lift = np.array([row[1] for row in valve.lift_table])
        return degrees, np.interp(degrees, at, lift, left=0.0, right=0.0, period=720.0 if at[-1] > 720.0 else None)
    opens, closes = seat_timing(valve.opens_deg, valve.closes_deg, valve.check_lift, valve.lift)
    return degrees, np.array([valve_lift(d, opens, closes, valve.lift) for d in degrees])


def valve_table(engine: Engine, calibration: Calibration = NOMINAL) -> np.ndarray:
    """Effective areas of all intake and all exhaust valves of a cylinder. (2, 1442) [m²]"""
    table = np.zeros((2, DEGREES + 2))
    sides = (
        (engine.intake_valve, engine.intake_port, inlet_area, calibration.intake_flow),
        (engine.exhaust_valve, engine.exhaust_port, exhaust_area, calibration.exhaust_flow),
    )
    for row, (valve, port, area, flow) in enumerate(sides):
        table[row, : DEGREES + 1] = (
            flow * valve.flow_factor * _valve_areas(valve, area_of(port.bore) / valve.count, area)
        )
        table[row, DEGREES + 1] = table[row, 1]
    return table


@lru_cache(maxsize=32)  # a slider moves one part, the others stay
def _valve_areas(valve: Valve, throat: float, area: Callable[[float, float, float], float]) -> np.ndarray:
    """Effective area of all valves of one side over the cycle, throat [m²] of each. (1441,) [m²]"""
    _, lift = lift_curve(valve)
    return np.array([valve.count * area(x, valve.diameter, throat) for x in lift])


def cylinder_rows(
    setup: Setup, charge: Charge, reservoirs: Sequence[int], calibration: Calibration = NOMINAL
) -> np.ndarray:
    """One row for every cylinder, standing at the start of the cycle."""
    engine = setup.engine
    rows = np.zeros(engine.cylinders, dtype=CYLINDER_DTYPE)
    for n, reservoir in enumerate(reservoirs):
        y = rows[n]
        y["reservoir"], y["phase"] = reservoir, (720.0 - engine.firing[n]) % 720.0
        y["bore"], y["stroke"], y["rod"] = engine.bore, engine.stroke, engine.rod
        y["compression_ratio"] = engine.compression_ratio
        y["wall"], y["heat_factor"] = CHAMBER_WALL[engine.cooling], CHAMBER_HEAT
        intake, exhaust = engine.intake_valve, engine.exhaust_valve
        y["intake_closes"], y["exhaust_opens"] = intake.closes_deg % 720.0, exhaust.opens_deg % 720.0
        y["base_duration"] = calibration.burn * BURN_DURATION
        y["complete"], y["starting"] = 1.0, START_CYCLES
        y["rich_cost"], y["rich_limit"] = calibration.rich_cost, calibration.rich_limit
        y["heating_value"] = setup.fuel.heating_value
        y["air_fuel_ratio"] = charge.air_fuel_ratio
        y["octane"] = setup.fuel.octane
        y["close_p"], y["close_T"], y["close_V"] = charge.air.pressure, 350.0, engine.cylinder_volume
    return rows


def spark_advance(setup: Setup, rpm: float) -> float:
    """Crank degrees before firing top dead centre at a speed."""
    rows = setup.ignition.advance
    return float(np.interp(rpm, [r[0] for r in rows], [r[1] for r in rows]))


def carburettor_rows(
    setup: Setup, charge: Charge, intake: IntakePlan, arrays: dict[str, np.ndarray], calibration: Calibration = NOMINAL
) -> np.ndarray:
    """One row for every carburettor, laid out in `arrays`."""
    rows = np.zeros(len(setup.carburettors), dtype=CARBURETTOR)
    air = charge.air
    c, joints = arrays["cells"][0], arrays["joints"]
    for n, part in enumerate(setup.carburettors):
        b = rows[n]
        cell, gate = intake.venturi_cells[n], intake.throttles[n]
        b["cell"], b["bowl"], b["on"] = cell, intake.bowls[n], 1
        b["area"] = c["inverse_length"][cell] / c["inverse_volume"][cell]
        b["fuel_density"] = density_at(setup.fuel.density, air.temperature)
        b["air_density"] = air.pressure / (charge.gas.gas_constant[0] * air.temperature)
        b["air_h"] = _enthalpy(charge, 0, air.temperature)
        b["fuel_h"] = _enthalpy(charge, 1, air.temperature) - LATENT_FROM_AIR * setup.fuel.latent_heat
        b["gate"], b["behind"] = gate, -1
        if gate >= 0:
            b["behind"], b["gate_area"] = joints["b_cell"][gate], joints["b_area"][gate]
        if setup.intake.wall_film > 0.0:
            _fill_film(b, setup, part.feeds, intake)
        fill_throat(b, part)
        fill_circuits(b["circuit"], part, calibration)
        if part.piston is not None and part.needle is not None:
            fill_piston(b, part, part.piston, part.needle)
    return rows


def _fill_film(row: np.void, setup: Setup, feeds: Sequence[int], intake: IntakePlan) -> None:
    """Wall film of one carburettor."""
    row["film_share"], row["fed"], row["port_cells"] = setup.intake.wall_film, len(feeds), intake.port_cells
    for k, number in enumerate(feeds):
        row["film_cell"][k] = intake.ports[number].cell
        row["film_split"][k] = setup.intake.film_split[number]


def _enthalpy(charge: Charge, stock: int, temperature: float) -> float:
    """Enthalpy of a pure stock above 0 K, on the kernel's scale. [J/kg]"""
    t = temperature / 1000.0
    k = charge.gas.energy[stock]
    return float(np.sum(k * t ** np.arange(1, k.size + 1)) + charge.gas.gas_constant[stock] * temperature)
