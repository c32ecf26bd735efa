"""The engine of a sheet: checked values in, the part out, what is left out filled in."""

import math
from typing import Any

from pulsewright.bench.check_lift_table import check_lift_table, table_timing
from pulsewright.bench.engine import Engine, Ignition, Port
from pulsewright.bench.given import MEMORY, NOT_GIVEN, PRACTICE, Given, rounded, written
from pulsewright.bench.valve import Valve
from pulsewright.units import show

ROD_PER_STROKE = 1.8
# Valve head over cylinder bore, by number of valves of that kind in a cylinder.
INTAKE_VALVE_PER_BORE = {1: 0.46, 2: 0.36, 3: 0.30, 4: 0.26}
EXHAUST_VALVE_PER_BORE = {1: 0.40, 2: 0.30, 3: 0.26, 4: 0.23}
VALVE_WHY = f"share of the bore as in Heywood 1988, chapter 6, {MEMORY}"
USUAL_FLOW = f"a usual valve with its port, good to 15 %; Annand & Roe 1974 and Heywood 1988, chapter 6, {MEMORY}"
LIFT_PER_DIAMETER = 0.25
PORT_LENGTH_PER_BORE = {"intake_port": 0.85, "exhaust_port": 0.75}
PORT_BORE_PER_VALVE = 0.9
# The second cylinder of a twin fires one turn later, a four fires 1-3-4-2, a five 1-2-4-5-3, a six 1-5-3-6-2-4.
EVEN_FIRING = {
    1: (0.0,),
    2: (0.0, 360.0),
    3: (0.0, 240.0, 480.0),
    4: (0.0, 540.0, 180.0, 360.0),
    5: (0.0, 144.0, 576.0, 288.0, 432.0),
    6: (0.0, 480.0, 240.0, 600.0, 120.0, 360.0),
}
ADVANCE = ((1000.0, 10.0), (3000.0, 30.0), (8000.0, 32.0))


def fill_engine(given: Given, routes: int) -> Engine:
    """The engine; the number of exhaust `routes` counts the cylinders if nothing else does."""
    cylinders = _cylinders(given, routes)
    bore, stroke = given["bore"], given["stroke"]
    intake = _valve(given.below("intake_valve"), bore, INTAKE_VALVE_PER_BORE)
    exhaust = _valve(given.below("exhaust_valve"), bore, EXHAUST_VALVE_PER_BORE)
    why = f"{ROD_PER_STROKE:g} strokes, Heywood 1988, chapter 2 gives 1.5 to 2 for small engines, {MEMORY}"
    return Engine(
        cylinders=cylinders,
        bore=bore,
        stroke=stroke,
        rod=given.quantity("rod", rounded(ROD_PER_STROKE * stroke), "length", why),
        compression_ratio=given["compression_ratio"],
        firing=_firing(given, cylinders),
        cooling=given.plain("cooling", "air", PRACTICE),
        intake_valve=intake,
        exhaust_valve=exhaust,
        intake_port=_port(given.below("intake_port"), bore, intake),
        exhaust_port=_port(given.below("exhaust_port"), bore, exhaust),
    )


def fill_ignition(given: Given) -> Ignition:
    """The spark advance curve."""
    why = f"a usual curve for two valves and air cooling, {PRACTICE}"
    return Ignition(advance=given.plain("advance", ADVANCE, why))


def _cylinders(given: Given, routes: int) -> int:
    if "cylinders" in given:
        return given["cylinders"]
    count = len(given["firing"]) if "firing" in given else routes
    reason = "as many as firing positions" if "firing" in given else "as many as exhaust routes"
    return given.plain("cylinders", count, reason)


def _firing(given: Given, cylinders: int) -> tuple[float, ...]:
    if "firing" not in given:
        even = EVEN_FIRING[cylinders]
        return even if cylinders == 1 else given.plain("firing", even, "evenly spread over two turns")
    firing = given["firing"]
    if len(firing) != cylinders:
        raise (given.place / "firing").error(
            f"engine.firing is {written(firing)}, {len(firing)} positions for {cylinders} cylinders",
            "give the crank angle of firing top dead centre for each cylinder, like [0, 412]",
        )
    return firing


def _valve(given: Given, bore: float, per_bore: dict[int, float]) -> Valve:
    count = given.plain("count", 1, PRACTICE)
    diameter = given.quantity("diameter", rounded(per_bore[count] * bore), "length", VALVE_WHY)
    table = given.values.get("lift_table")
    check_lift = given.quantity("check_lift", 0.0, "length", "the timing is read as seat to seat")
    if table is None:
        why = f"a quarter of the valve's diameter, Heywood 1988, chapter 6, {MEMORY}"
        lift = given.quantity("lift", rounded(LIFT_PER_DIAMETER * diameter), "length", why)
    else:
        lift = given.values.get("lift", max(height for _, height in table))
    opens, closes = _timing(given, table, check_lift)
    valve = Valve(
        count=count,
        diameter=diameter,
        lift=lift,
        opens_deg=opens,
        closes_deg=closes,
        check_lift=check_lift,
        lift_table=table,
        flow_factor=given.plain("flow_factor", 1.0, USUAL_FLOW),
    )
    check_lift_table(valve, given.place)
    return valve


def _timing(given: Given, table: Any, check_lift: float) -> tuple[float, float]:
    """Opening and closing; from the lift table where the card gives no timing. [deg]"""
    if table is None:
        for key in ("opens", "closes"):
            if key not in given:
                place = given.place / key
                raise place.error(f"{place.key} is missing", "add the timing of the cam card, like '22 deg BTDC'")
        return given["opens"], given["closes"]
    opens, closes = table_timing(table, check_lift)
    for key, angle in (("opens", opens), ("closes", closes)):
        if key not in given:
            text = f"{angle:.1f} deg after firing top dead centre"
            (given.place / key).assume(text, f"{NOT_GIVEN}; read off the lift table")
    return given.values.get("opens", opens), given.values.get("closes", closes)


def _port(given: Given, bore: float, valve: Valve) -> Port:
    share = PORT_LENGTH_PER_BORE[given.place.path[-1]]
    length = rounded(share * bore)
    width = rounded(min(PORT_BORE_PER_VALVE * valve.diameter * math.sqrt(valve.count), bore))
    port = Port(
        length=given.quantity("length", length, "length", f"{share:g} cylinder bores, {PRACTICE}"),
        bore=given.quantity("bore", width, "length", f"{PORT_BORE_PER_VALVE:g} of the valve's width, {PRACTICE}"),
    )
    if port.bore > bore:
        place = given.place / "bore"
        raise place.error(
            f"{place.key} is {show(port.bore, 'length')}, wider than the cylinder's {show(bore, 'length')}",
            "check the unit; a port is narrower than the cylinder",
        )
    return port
