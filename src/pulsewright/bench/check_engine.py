"""Do the parts of the engine fit each other."""

import math

from pulsewright.bench.engine import Engine
from pulsewright.bench.place import Place
from pulsewright.bench.valve import Valve
from pulsewright.units import show

ROD_PER_STROKE = (1.1, 4.0)
HIGHEST_LIFT_PER_DIAMETER = 0.5


def check_engine(engine: Engine, place: Place) -> None:
    """Raise an InputError for the first part that does not fit."""
    low, high = (share * engine.stroke for share in ROD_PER_STROKE)
    if not low <= engine.rod <= high:
        raise (place / "rod").error(
            f"{place.key}.rod is {show(engine.rod, 'length')} for a stroke of"
            f" {show(engine.stroke, 'length')}; allowed: {show(low, 'length')} to {show(high, 'length')}",
            "give the connecting rod centre to centre",
        )
    _check_valve(engine.intake_valve, engine.bore, place / "intake_valve")
    _check_valve(engine.exhaust_valve, engine.bore, place / "exhaust_valve")
    _check_head(engine, place)


def _check_valve(valve: Valve, bore: float, place: Place) -> None:
    if valve.diameter >= bore:
        raise (place / "diameter").error(
            f"{place.key}.diameter is {show(valve.diameter, 'length')} in a cylinder of"
            f" {show(bore, 'length')} bore; allowed: less than the bore",
            "give the diameter of the valve head",
        )
    highest = HIGHEST_LIFT_PER_DIAMETER * valve.diameter
    if valve.lift > highest:
        raise (place / "lift").error(
            f"{place.key}.lift is {show(valve.lift, 'length')} for a valve of"
            f" {show(valve.diameter, 'length')}; allowed: up to {show(highest, 'length')}",
            "check the unit and the decimal point",
        )
    if valve.check_lift >= 0.5 * valve.lift:
        raise (place / "check_lift").error(
            f"{place.key}.check_lift is {show(valve.check_lift, 'length')} of"
            f" {show(valve.lift, 'length')} lift; allowed: less than half of the lift",
            "give the lift at which the cam card states the timing, or 0 for seat to seat",
        )


def _check_head(engine: Engine, place: Place) -> None:
    """All valve heads together must find room above the piston."""
    valves = (engine.intake_valve, engine.exhaust_valve)
    area = sum(valve.count * math.pi / 4.0 * valve.diameter**2 for valve in valves)
    share = area / (math.pi / 4.0 * engine.bore**2)
    if share > 1.0:
        raise (place / "bore").error(
            f"the valve heads cover {100 * share:.0f} % of the bore; allowed: up to 100 %",
            "check bore, valve diameters and valve counts",
        )
