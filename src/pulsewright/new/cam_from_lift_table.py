r"""Cam timing from a lift table: where the lift rises through and falls through the check lift.

Source   linear interpolation between rows; its error is at most an eighth of the second difference of the lift
         (Newton's remainder, closed form), which over the slope is an angle.
Band     degree wheel and finding of the dead centre within 1 degree, dial gauge within 0.05 mm (common
         practice, no published source), and the interpolation.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

from pulsewright.bench.check_lift_table import SEATED, table_timing
from pulsewright.bench.timing import EXHAUST_CLOSES, EXHAUST_OPENS, INTAKE_CLOSES, INTAKE_OPENS, Timing
from pulsewright.errors import InputError
from pulsewright.new.estimate import Estimate, Line, Reading
from pulsewright.units import number_and_unit, quantity, show

Row = tuple[float, float]  # crank angle after firing top dead centre [deg], lift at the valve [m]
ANGLE_DOUBT = 1.0  # [deg]
LIFT_DOUBT = 0.05e-3  # [m]
ZERO = {"firing": 0.0, "overlap": 360.0}  # top dead centre from which a table counts -> degrees after firing
TIMINGS: dict[str, tuple[Timing, Timing]] = {
    "intake": (INTAKE_OPENS, INTAKE_CLOSES),
    "exhaust": (EXHAUST_OPENS, EXHAUST_CLOSES),
}
LEAST_ROWS = 4


def cam_from_lift_table(rows: Sequence[Row], *, valve: str, check_lift: float) -> Estimate:
    """Timing at a check lift.

    Parameters
    ----------
    rows : (n,) crank degrees after firing top dead centre, rising, and lift [m].
    valve : "intake" or "exhaust".
    check_lift : lift at which the card is to hold. [m]

    Raises InputError where the lift does not pass the check lift twice, or the timing is none of such a valve.
    """
    table = tuple(rows)
    top = max(lift for _, lift in table)
    if not SEATED < check_lift < top:
        raise InputError(
            f"the check lift is {show(check_lift, 'length')}; this table allows above {show(SEATED, 'length')} and"
            f" below its {show(top, 'length')}",
            hint="1 mm and 1.27 mm (0.050 in) are common check lifts",
        )
    angles = table_timing(table, check_lift)
    events = [_event(angle, table, check_lift, rising) for angle, rising in zip(angles, (True, False), strict=True)]
    sides = TIMINGS[valve]
    texts = [_written(side, event) for side, event in zip(sides, events, strict=True)]
    doubt = max(event.high - event.value for event in events)
    return Estimate(
        kind="cam-timing",
        sentence=(
            f"{valve} valve: opens {texts[0]}, closes {texts[1]} at {show(check_lift, 'length')} lift, within"
            f" {doubt:.1f} deg; open for {angles[1] - angles[0]:.0f} deg"
        ),
        table=f"engine.{valve}_valve",
        lines=(
            Line(key="opens", text=texts[0], reading=events[0], band=_ends(sides[0], events[0])),
            Line(key="closes", text=texts[1], reading=events[1], band=_ends(sides[1], events[1])),
            Line(key="check_lift", text=show(check_lift, "length")),
            Line(key="lift", text=show(top, "length", digits=4)),
            Line(key="lift_table", text=_toml_rows(table), quoted=False),
        ),
        why=(
            f"read off {len(table)} rows, linear between them; angle believed within {ANGLE_DOUBT:g} deg, lift within"
            f" {show(LIFT_DOUBT, 'length')}, and what a straight line between rows leaves out"
        ),
        cautions=_cautions(table),
        more=(("duration_deg", angles[1] - angles[0]), ("highest_lift", top), ("doubt_deg", doubt)),
    )


def read_lift_table(text: str, *, where: str, lift_unit: str | None, zero: str, cam_degrees: bool) -> list[Row]:
    """Rows of a text with an angle and a lift in each line.

    text : columns apart by semicolon, tab, comma or blanks; lines that begin with # and heading lines are passed
        over, and the lift's unit is read from the heading where `lift_unit` says none.
    zero : the top dead centre that the angles count from, a key of `ZERO`; cam_degrees : they are of the camshaft.
    """
    rows: list[Row] = []
    unit = lift_unit
    for number, line in enumerate(text.splitlines(), 1):
        cells = _cells(line)
        if not cells or line.lstrip().startswith("#"):
            continue
        first = number_and_unit(cells[0])
        if first is None and not rows:
            unit = unit or _unit_in(cells[-1])
            continue
        place = f"{where}, line {number}"
        if first is None or len(cells) != 2:
            raise InputError(
                f"'{line.strip()}' is not an angle and a lift", where=place, hint="write 330; 2.4 in a line"
            )
        angle = first[0] * (2.0 if cam_degrees else 1.0) + ZERO[zero]
        rows.append((angle, _lift(cells[1], unit, place)))
    return _checked(rows, where)


def _event(angle: float, table: Sequence[Row], check_lift: float, rising: bool) -> Reading:
    """A crossing with its band. [deg]"""
    nearest = [i for i in range(1, len(table)) if table[i - 1][0] <= angle <= table[i][0]]
    i = nearest[0] if nearest else (1 if rising else len(table) - 1)
    (x0, y0), (x1, y1) = table[i - 1], table[i]
    slope = abs(y1 - y0) / (x1 - x0)
    bends = [_bend(table, k) for k in (i - 1, i) if 0 < k < len(table) - 1]
    left_out = max(bends, default=0.0) / 8.0
    return Reading.within(angle, math.sqrt(ANGLE_DOUBT**2 + (LIFT_DOUBT / slope) ** 2) + left_out / slope)


def _bend(table: Sequence[Row], k: int) -> float:
    """Second difference of the lift at a row, for steps as long as the longer one beside it. [m]"""
    (a, ya), (b, yb), (c, yc) = table[k - 1 : k + 2]
    curvature = 2.0 * ((yc - yb) / (c - b) - (yb - ya) / (b - a)) / (c - a)
    return abs(curvature) * max(c - b, b - a) ** 2


def _written(side: Timing, event: Reading) -> str:
    try:
        return side.write(event.value)
    except InputError as error:
        raise InputError(
            f"{error.what}", hint="say with --zero which top dead centre the table counts from, and which valve it is"
        ) from None


def _ends(side: Timing, event: Reading) -> str:
    return f"{side.write(event.low, anywhere=True)} to {side.write(event.high, anywhere=True)}"


def _toml_rows(table: Sequence[Row]) -> str:
    return "[" + ", ".join(f'[{angle:g}, "{show(lift, "length", digits=4)}"]' for angle, lift in table) + "]"


def _cautions(table: Sequence[Row]) -> tuple[str, ...]:
    said = ["lifts must be at the valve with its running clearance; a rocker and the clearance shift the timing"]
    if max(lift for _, lift in (table[0], table[-1])) > SEATED:
        said.append("the table does not start and end on the seat: leave lift_table out, or measure on")
    return tuple(said)


def _cells(line: str) -> list[str]:
    for mark in (";", "\t", ","):
        if mark in line:
            return [cell.strip() for cell in line.split(mark)]
    return line.split()


def _unit_in(heading: str) -> str | None:
    found = re.search(r"\b(mm|cm|in|inch|inches)\b", heading, re.IGNORECASE)
    return found[1] if found else None


def _lift(cell: str, unit: str | None, where: str) -> float:
    parts = number_and_unit(cell)
    if parts is not None and not parts[1] and parts[0] != 0.0:
        if unit is None:
            raise InputError(
                "the lifts have no unit", where=where, hint="add --lift-unit mm, or write 'lift mm' above them"
            )
        cell = f"{cell} {unit}"
    return quantity(0 if parts == (0.0, "") else cell, "length", where=where)


def _checked(rows: list[Row], where: str) -> list[Row]:
    if len(rows) < LEAST_ROWS:
        raise InputError(f"{len(rows)} rows are no lift table; allowed: {LEAST_ROWS} or more", where=where)
    for before, after in pairwise(rows):
        if after[0] <= before[0]:
            raise InputError(
                f"the angle {after[0]:g} deg follows {before[0]:g} deg; allowed: rising angles", where=where,
                hint="sort the rows by angle; count on past 720 rather than from 0 again",
            )  # fmt: skip
    return rows
