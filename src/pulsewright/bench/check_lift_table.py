"""A measured lift table against itself and against the cam card."""

from itertools import pairwise

from pulsewright.bench.place import Place
from pulsewright.bench.valve import Valve
from pulsewright.units import show

SEATED = 0.1e-3  # [m] lift at the ends of a table that still counts as closed
LIFT_AGREES = 0.05  # [-] highest lift of the table against `lift`
TIMING_AGREES = 20.0  # [deg] table against the card's timing at the same lift

Table = tuple[tuple[float, float], ...]


def table_timing(table: Table, check_lift: float) -> tuple[float, float]:
    """Crank angles where a lift table rises through and falls through a lift, linear between rows. [deg]"""
    rows = list(pairwise(table))
    level = max(check_lift, 1e-9)  # so that seat to seat finds the first and last row that moves
    up = next((pair for pair in rows if pair[0][1] <= level < pair[1][1]), None)
    down = next((pair for pair in reversed(rows) if pair[1][1] <= level < pair[0][1]), None)
    return (
        _crossing(up, check_lift) if up else table[0][0],
        _crossing(down, check_lift) if down else table[-1][0],
    )


def check_lift_table(valve: Valve, place: Place) -> None:
    """Refuse a table that does not start and end on the seat, or contradicts lift or timing."""
    if valve.lift_table is None:
        return
    place = place / "lift_table"
    _check_ends(valve.lift_table, place)
    _check_height(valve, valve.lift_table, place)
    _check_timing(valve, valve.lift_table, place)


def _crossing(pair: tuple[tuple[float, float], tuple[float, float]], level: float) -> float:
    (x0, y0), (x1, y1) = pair
    return x0 + (x1 - x0) * (level - y0) / (y1 - y0)


def _check_ends(table: Table, place: Place) -> None:
    for number, (_, lift) in ((1, table[0]), (len(table), table[-1])):
        if lift > SEATED:
            raise (place / number).error(
                f"the lift table has {show(lift, 'length')} at its end; allowed: 0 to {show(SEATED, 'length')}",
                "start and end the table where the valve sits",
            )


def _check_height(valve: Valve, table: Table, place: Place) -> None:
    top = max(lift for _, lift in table)
    if top <= 0 or abs(top - valve.lift) > LIFT_AGREES * valve.lift:
        raise place.error(
            f"the lift table reaches {show(top, 'length')}, but lift is {show(valve.lift, 'length')};"
            f" allowed: {100 * LIFT_AGREES:g} % apart",
            "give lifts at the valve, not at the cam, or leave lift out",
        )


def _check_timing(valve: Valve, table: Table, place: Place) -> None:
    for name, card, angle in zip(
        ("opens", "closes"),
        (valve.opens_deg, valve.closes_deg),
        table_timing(table, valve.check_lift),
        strict=True,
    ):
        if abs(card - angle) > TIMING_AGREES:
            raise place.error(
                f"the lift table {name} at {angle:.1f} deg after firing top dead centre, the timing says"
                f" {card:.1f} deg; allowed: {TIMING_AGREES:g} deg apart",
                "count the table's crank angles from firing top dead centre, 0 to 720 (overlap is at 360)",
            )
