"""From the columns of a file to roller speed in rad/s, and what follows from it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from pulsewright.bench.roller import RollerDyno
from pulsewright.errors import InputError
from pulsewright.pulls.channel_units import find_unit, split_heading
from pulsewright.pulls.channel_words import proposed_quantity
from pulsewright.pulls.columns import Column, Naming
from pulsewright.pulls.decoding import decode, read_bytes
from pulsewright.pulls.dialect import read_table
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.roller_power import (
    RADIANS,
    RollerDoubt,
    coast_down_losses,
    drive_ratio,
    roller_doubt,
    roller_power,
)
from pulsewright.pulls.torque_power import check_peak


def add_engine_speed(naming: Naming, reading: Reading) -> None:
    """Engine speed from the roller and a known drive ratio, where no column gives it."""
    roller = naming.one("roller_speed")
    dyno = reading.roller
    if naming.one("engine_speed") or dyno is None or dyno.drive_ratio is None or roller is None:
        return
    if roller.unit is None:
        return
    naming.columns.append(
        Column(
            index=len(naming.columns), heading=f"{roller.heading} x drive ratio", quantity="engine_speed",
            unit=find_unit("rpm"), values=_radians(roller, dyno) / RADIANS * dyno.drive_ratio,
            confidence=0.9, reason=f"roller speed times the drive ratio of {dyno.drive_ratio:g}; slip unseen",
            confirmed=True,
        )
    )  # fmt: skip


def power_from_roller(
    naming: Naming, order: np.ndarray, engine_speed: np.ndarray, reading: Reading, where: str
) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Power of the rows in `order` and its standard deviation [W], and what they were made with.

    engine_speed : [rpm], NaN where not trusted.
    """
    time, roller, dyno = naming.one("time"), naming.one("roller_speed"), reading.roller
    assert roller is not None
    assert dyno is not None
    if time is None or roller.unit is None:
        lost = "a time" if time is None else f"a unit for '{roller.heading}'"
        raise InputError(
            f"power from the roller needs {lost}", where=where,
            hint="log the time" if time is None else "say so: --as roller_speed=km/h",
        )  # fmt: skip
    if dyno.coast_down is not None:
        dyno = replace(dyno, losses=_coast_down(dyno.coast_down, dyno))
    turning = _radians(roller, dyno)[order]
    power = roller_power(time.si[order], turning, engine_speed, dyno)
    torque = power / (engine_speed * RADIANS)
    known = torque[np.isfinite(torque)]
    peak = float(np.percentile(known, 95)) if known.size else float("nan")
    check_peak(peak, f"a roller of {dyno.inertia:g} kg m²", reading, where)
    doubt = roller_doubt(time.si[order], turning, engine_speed, dyno)
    return power, doubt.whole, [_said(dyno, drive_ratio(turning, engine_speed, dyno)), _doubt_said(power, doubt)]


def _doubt_said(power: np.ndarray, doubt: RollerDoubt) -> str:
    def share(sd: np.ndarray) -> str:
        ok = np.isfinite(sd) & (power > 0.0)
        return f"± {200.0 * float(np.median(sd[ok] / power[ok])):.1f} %" if ok.any() else "not known"

    inertia = f"inertia {share(doubt.inertia)}" if np.nanmax(doubt.inertia, initial=0.0) > 0.0 else (
        "no tolerance of the inertia given"
    )  # fmt: skip
    return (
        f"this power is known to {share(doubt.whole)} (two standard deviations, middle of the pull): "
        f"speed noise {share(doubt.noise)}, window {share(doubt.window)}, {inertia}"
    )


def _said(dyno: RollerDyno, gear: float) -> str:
    losses = "no losses" if not dyno.losses else "losses by table"
    if dyno.coast_down is not None:
        losses = f"losses by coasting down ({dyno.coast_down.name})"
    engine = f"engine inertia {dyno.engine_inertia:g} kg m²" if dyno.engine_inertia else "no engine inertia"
    return (
        f"power from the roller: {dyno.inertia:g} kg m², radius {1e3 * dyno.radius:.0f} mm, slope over "
        f"{dyno.window:.0f} rpm, {gear:.2f} engine turns a roller turn, {losses}, {engine}"
    )


def _radians(column: Column, dyno: RollerDyno) -> np.ndarray:
    """Roller speed. [rad/s]"""
    assert column.unit is not None
    return column.si * RADIANS if column.unit.kind == "rotation" else column.si / dyno.radius


def _coast_down(path: Path, dyno: RollerDyno) -> tuple[tuple[float, float], ...]:
    """Losses from a file with time and roller speed."""
    text, _ = decode(read_bytes(path), where=str(path))
    table = read_table(text, where=str(path))
    found: dict[str, Column] = {}
    for j, heading in enumerate(table.headings):
        name, unit = split_heading(heading)
        unit = (find_unit(table.units_row[j]) if table.units_row else None) or unit
        quantity, confidence = proposed_quantity(name)
        column = Column(
            index=j, heading=heading, quantity=quantity, unit=unit, values=table.values[:, j],
            confidence=confidence, reason="",
        )  # fmt: skip
        if quantity in ("time", "roller_speed") and unit is not None:
            found.setdefault(quantity, column)
    if len(found) < 2:
        raise InputError(
            "a coast-down file has a time and a roller speed, both with their unit", where=str(path),
            hint="as in: time (s);roller speed (km/h)",
        )  # fmt: skip
    return coast_down_losses(found["time"].si, _radians(found["roller_speed"], dyno), dyno, where=str(path))
