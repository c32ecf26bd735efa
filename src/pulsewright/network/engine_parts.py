"""Cylinders, valves and carburettors as rows of the kernel's tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np

from pulsewright.bench.carburettor import Carburettor
from pulsewright.bench.engine import Engine
from pulsewright.bench.setup import Setup
from pulsewright.bench.valve import Valve
from pulsewright.kernel.layout import CARBURETTOR, CYLINDER_DTYPE, DEGREES
from pulsewright.network.assembly import area_of
from pulsewright.network.calibration import NOMINAL, Calibration
from pulsewright.network.gas import Charge
from pulsewright.physics.fuel import density_at
from pulsewright.physics.jet_flow import CD_CHAMFERED
from pulsewright.physics.lift_curve import seat_timing, valve_lift
from pulsewright.physics.valve_flow import exhaust_area, inlet_area

CHAMBER_WALL = {"air": 470.0, "water": 430.0}  # [K] mean of head, piston and liner, assumed
CHAMBER_HEAT = 1.25  # [-] on the published wall heat, good to 30 %: brings it to a sixth of the fuel's heat, assumed
BURN_DURATION = 62.0  # [deg] whole burn at the reference point of `physics.burn_duration`, assumed
VENTURI_CD = 0.95  # [-] 0.80 to 0.95 in textbooks, from memory
NOZZLE_CD = 0.75  # [-] emulsion outlet, assumed
BLEED_CD = 0.75  # [-] air bleed, short bore, assumed
# Ordinary sizes, end corrections counted: jet 4.5 mm of 2 mm bore 1400, passage from the bowl 20 mm of
# 5 mm 1000, well 40 mm of 7 mm 1000, nozzle 30 mm of 4 mm a third full of fuel 800; doubtful by half.
COLUMN = 5000.0  # [1/m] length over area of the fuel passages behind a jet of 2 mm, assumed
COLUMN_JET = 2.0e-3
WELL_BORE = 8.0e-3  # [m] assumed
SPILL_TIME = 2.0e-3  # [s] for fuel above the lip to leave; with the column about 5 ms of lag, assumed
MAIN_SHARE = 0.75  # suction at the main nozzle over that of the throat, assumed
INTERMEDIATE_SHARE = 0.3  # suction at the intermediate outlet over that at the venturi, assumed
INTERMEDIATE_OUTLET = 2.0e-3  # [m] bore, assumed
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
        y["base_duration"], y["complete"] = calibration.burn * BURN_DURATION, 1.0
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
    setup: Setup,
    charge: Charge,
    cells: Sequence[int],
    bowls: Sequence[int],
    areas: Sequence[float],
    calibration: Calibration = NOMINAL,
) -> np.ndarray:
    """One row for every carburettor; `areas` are the cross-sections of their venturi cells. [m²]"""
    rows = np.zeros(len(setup.carburettors), dtype=CARBURETTOR)
    air = charge.air
    for n, part in enumerate(setup.carburettors):
        b = rows[n]
        b["cell"], b["bowl"], b["area"], b["on"] = cells[n], bowls[n], areas[n], 1
        b["throat"] = VENTURI_CD * area_of(part.venturi)
        b["fuel_density"] = density_at(setup.fuel.density, air.temperature)
        b["air_density"] = air.pressure / (charge.gas.gas_constant[0] * air.temperature)
        b["air_h"] = _enthalpy(charge, 0, air.temperature)
        b["fuel_h"] = _enthalpy(charge, 1, air.temperature) - LATENT_FROM_AIR * setup.fuel.latent_heat
        _circuits(b["circuit"], part, calibration)
    return rows


def _circuits(rows: np.ndarray, part: Carburettor, k: Calibration) -> None:
    sizes = (
        (part.main_jet, part.main_air_bleed, part.main_nozzle, part.nozzle_lip, MAIN_SHARE * k.nozzle_suction),
        (part.intermediate_jet, part.intermediate_air_bleed, INTERMEDIATE_OUTLET, part.nozzle_lip, INTERMEDIATE_SHARE),
    )
    for row, (jet, bleed, outlet, lip, share), flow in zip(rows, sizes, (k.main_jet, k.intermediate_jet), strict=True):
        row["jet"] = flow * CD_CHAMFERED * area_of(jet)
        row["bleed"] = k.bleed * BLEED_CD * area_of(bleed)
        row["outlet"] = NOZZLE_CD * area_of(outlet)
        row["lip"] = lip
        row["well_area"] = area_of(WELL_BORE)
        row["column"] = k.column * COLUMN * (COLUMN_JET / max(jet, 0.2e-3)) ** 2
        row["spill_time"] = SPILL_TIME
        row["suction_share"] = share
        row["level"] = lip  # wells full, as on a running engine


def _enthalpy(charge: Charge, stock: int, temperature: float) -> float:
    """Enthalpy of a pure stock above 0 K, on the kernel's scale. [J/kg]"""
    t = temperature / 1000.0
    k = charge.gas.energy[stock]
    return float(np.sum(k * t ** np.arange(1, k.size + 1)) + charge.gas.gas_constant[stock] * temperature)
