"""Torque and power units by their own law: power = torque x angular speed.

With both columns in the file the ratio of the two settles the pair of units to 0.3 %, whatever the headings
say; with one column only its unit must be named.
"""

from __future__ import annotations

import math

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.channel_units import Unit, units_of
from pulsewright.pulls.columns import Column, Naming, overrule
from pulsewright.pulls.pull import Question
from pulsewright.pulls.reading import Reading

RADIANS = math.pi / 30.0  # [rad/s] per rpm
CLOSE = 0.006  # [-] under half the step between hp and PS (1.4 %), over rounding in the file
GREATEST_TORQUE = 1500.0  # [N m] of a carburetted engine on a chassis dyno
# [Pa] No engine without a blower reaches 16 bar. Twice that is let in: a pull whose speed is counted at half reads
# double torque, and is named as such beside the other pulls.
GREATEST_BMEP = 32e5
LEAST_PEAK_TORQUE = 1.0  # [N m]
CONSTANT = 0.02  # [-] scatter up to which a ratio counts as constant


def check_torque_power(naming: Naming, reading: Reading, where: str) -> None:
    """Settle the units of torque and power, or refuse."""
    torque, power = naming.one("torque"), naming.one("power")
    if torque is None and power is None and reading.roller is not None and naming.one("roller_speed"):
        return  # power comes from the roller (roller_power.py)
    if torque is None and power is None:
        raise InputError(
            "no column reads as torque or power",
            where=where,
            hint='say which: --column torque="..." or --column power="..."; of an inertia roller say '
            "--roller-inertia and --roller-circumference",
        )
    if torque is not None and power is not None:
        _settle_pair(naming, torque, power, where)
    for column in (torque, power):
        if column is not None and column.quantity and column.unit is None:
            raise InputError(
                f"'{column.heading}' has no unit and nothing in the file tells it",
                where=where,
                hint=f"say so: --as {column.quantity}={'Nm' if column.quantity == 'torque' else 'kW'}",
            )
    _check_size(naming, reading, where)


def _ratio(naming: Naming, torque: Column, power: Column) -> tuple[float, float]:
    """Median of power / (torque x rpm) in the numbers of the file, and its relative scatter."""
    speed = naming.one("engine_speed")
    assert speed is not None
    rpm = speed.si
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = power.values / (torque.values * rpm)
        strong = (torque.values > 0.3 * np.nanmax(torque.values)) & (rpm > 0.3 * np.nanmax(rpm))
    ratio = ratio[strong & np.isfinite(ratio)]
    if ratio.size < 5:
        return math.nan, math.inf
    middle = float(np.median(ratio))
    low, high = np.percentile(ratio, [16, 84])
    return middle, float((high - low) / 2 / abs(middle)) if middle else math.inf


def _expected(torque: Unit, power: Unit) -> float:
    return torque.factor * RADIANS / power.factor


def _settle_pair(naming: Naming, torque: Column, power: Column, where: str) -> None:
    ratio, scatter = _ratio(naming, torque, power)
    if not ratio > 0 or scatter > 3 * CONSTANT:
        raise InputError(
            f"'{torque.heading}', '{power.heading}' and the engine speed contradict each other: "
            "power / (torque x speed) is not constant",
            where=where,
            hint="check that they belong together, or leave one of the two out (--column)",
        )
    pairs = [
        (t, p) for t in units_of(("torque",)) for p in units_of(("power",)) if abs(ratio / _expected(t, p) - 1) < CLOSE
    ]
    said = [(t, p) for t, p in pairs if torque.unit in (None, t) and power.unit in (None, p)]
    if len(said) > 1:  # an unnamed unit: take the closest and ask
        said.sort(key=lambda pair: abs(ratio / _expected(*pair) - 1))
        _refuse_pair(torque, power, said, where)
    if said:
        _agree(torque, power, *said[0])
        return
    one_changed = [(t, p) for t, p in pairs if (torque.unit == t) or (power.unit == p)]
    one_changed = [
        (t, p) for t, p in one_changed
        if not (torque.confirmed and torque.unit != t) and not (power.confirmed and power.unit != p)
    ]  # fmt: skip
    if len(one_changed) == 1:
        _overrule_pair(torque, power, *one_changed[0])
    elif one_changed or torque.unit is None or power.unit is None:
        _refuse_pair(torque, power, one_changed or pairs, where)
    else:
        _other_place(naming, torque, power, ratio, where)


def _agree(torque: Column, power: Column, t: Unit, p: Unit) -> None:
    for column, unit in ((torque, t), (power, p)):
        known = column.unit is not None
        column.unit = unit
        column.confidence = 0.98 if known else 0.9
        column.reason += "; power = torque x speed holds" + ("" if known else f" in {unit.name} only")


def _overrule_pair(torque: Column, power: Column, t: Unit, p: Unit) -> None:
    for column, unit in ((torque, t), (power, p)):
        if column.unit != unit:
            overrule(column, unit, f"but power = torque x speed holds in {unit.name} only", 0.85)


def _refuse_pair(torque: Column, power: Column, pairs: list[tuple[Unit, Unit]], where: str) -> None:
    listed = " or ".join(f"{t.name} with {p.name}" for t, p in pairs[:4]) or "none of the known units"
    raise InputError(
        f"the units of '{torque.heading}' and '{power.heading}' cannot be told: the numbers fit {listed}",
        where=where,
        hint="say so: --as torque=Nm --as power=kW",
    )


def _other_place(naming: Naming, torque: Column, power: Column, ratio: float, where: str) -> None:
    """Units are named and sound, yet the ratio is constant and not 1: the two sit at different places."""
    assert torque.unit
    assert power.unit
    share = ratio / _expected(torque.unit, power.unit)
    if share < 0.65:
        torque.quantity, torque.overruled = None, True
        torque.reason = (
            f"the numbers are {1 / share:.2f} times power / engine speed: torque behind a gear ratio; power is used"
        )
        naming.notes.append(f"torque from power: '{torque.heading}' is taken behind a gear ratio of {1 / share:.2f}")
    elif share <= 1.1:
        naming.questions.append(
            Question(
                about=f"{torque.heading}, {power.heading}",
                text=f"power is {share:.3f} of torque x speed: is one at the wheel and one at the "
                "engine, or one corrected?",
                taken=f"'{torque.heading}' as it stands",
            )
        )
        power.quantity, power.reason = None, "does not agree with the torque column, which is used"
    else:
        raise InputError(
            f"power is {share:.2f} times torque x speed in the units named",
            where=where,
            hint="is the engine speed halved (pick-up)? else name the units: --as torque=Nm --as power=kW",
        )


def _check_size(naming: Naming, reading: Reading, where: str) -> None:
    speed = naming.one("engine_speed")
    assert speed is not None
    torque, power = naming.one("torque"), naming.one("power")
    column = torque or power
    assert column is not None
    newton_metres = torque.si if torque else column.si / (np.maximum(speed.si, 1.0) * RADIANS)
    ok = np.isfinite(newton_metres) & (speed.si > 200.0)
    peak = float(np.percentile(newton_metres[ok], 95)) if ok.any() else math.nan
    unit = column.unit.name if column.unit else "?"
    check_peak(peak, f"'{column.heading}' read in {unit}", reading, where)


def check_peak(peak: float, made_by: str, reading: Reading, where: str) -> None:
    """Refuse a peak torque [N m] that no such engine makes."""
    most = GREATEST_TORQUE
    if reading.displacement:
        most = min(most, GREATEST_BMEP * reading.displacement / (4 * math.pi))
    if not LEAST_PEAK_TORQUE <= peak <= most:
        raise InputError(
            f"{made_by} gives a torque of {peak:.4g} N m; here it is {LEAST_PEAK_TORQUE:.0f} to {most:.0f} N m",
            where=where,
            hint="is it torque at the roller or wheel axle, or another unit? name it: --as torque=Nm, "
            "or use the power column; is the engine speed counted at half (pick-up)?",
        )
