"""Numbers against names: what each quantity can be, whatever its heading says.

The bounds are wide physical or trade bounds (common practice, no published source unless said); a value
outside means another unit or another quantity, which is tried before the file is refused.
"""

from __future__ import annotations

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.channel_units import Unit, find_unit, units_of
from pulsewright.pulls.columns import Column, Naming, overrule
from pulsewright.pulls.pull import Question
from pulsewright.pulls.reading import PETROL_AFR, Reading
from pulsewright.pulls.split_pulls import split_naming

ENGINE_SPEED = (300.0, 20000.0)  # [rpm] below idle to a small race engine
LAMBDA = (0.45, 1.7)  # [-] sensors show 0.5 to about 1.6 and clip there
AFR = (6.0, 25.0)  # [-] the same on every fuel's scale from ethanol to petrol
FULL_THROTTLE = (0.6, 1.15)  # [-] lambda at full throttle: carburetted engines miss from 1.1 to 1.2
SAME_SCALE = 0.02  # [-] petrols differ by this; displays show all of them at 14.7 (common practice)
BAROMETER = (60e3, 110e3)  # [Pa] 4000 m to below sea level
ROLLER = (0.3, 130.0)  # [m/s] up to 470 km/h
SWEEP = (1.0, 600.0)  # [s] duration of a pull
TEMPERATURE = {
    "head": (263.0, 623.0),
    "air": (243.0, 343.0),
    "exhaust": (263.0, 1500.0),
    "oil": (263.0, 473.0),
}  # fmt: skip  [K]


def check_numbers(naming: Naming, reading: Reading, where: str) -> None:
    """Hold every named column but torque and power against what it can be."""
    for column in naming.columns:
        if column.quantity and not np.isfinite(column.values).any():
            column.reason, column.quantity = "the column is empty", None
    _engine_speed(naming, where)
    _roller_speed(naming)
    _time(naming, where)
    for column in naming.of("lambda") + naming.of("afr"):
        _mixture(naming, column, reading, where)
    for column in naming.columns:
        if column.quantity and column.quantity.endswith("_temperature"):
            _temperature(naming, column)
    _barometer(naming)


def _span(values: np.ndarray) -> tuple[float, float, float]:
    """5 %, 50 % and 95 % points of the finite numbers."""
    low, middle, high = np.percentile(values[np.isfinite(values)], [5, 50, 95])
    return float(low), float(middle), float(high)


def _unit(name: str) -> Unit:
    unit = find_unit(name)
    assert unit is not None
    return unit


def _engine_speed(naming: Naming, where: str) -> None:
    column = naming.one("engine_speed")
    if column is None:
        raise InputError("the engine speed column is empty", where=where, hint="check the pick-up and the export")
    column.unit = column.unit or _unit("rpm")
    _, middle, high = _span(column.si)
    if not ENGINE_SPEED[0] <= middle <= ENGINE_SPEED[1]:
        if not column.confirmed and ENGINE_SPEED[0] <= 1000 * _span(column.values)[1] <= ENGINE_SPEED[1]:
            overrule(column, _unit("1000 rpm"), "numbers are thousands of rpm")
        elif not column.confirmed and ENGINE_SPEED[0] <= _span(column.values)[1] <= ENGINE_SPEED[1]:
            overrule(column, _unit("rpm"), "numbers are rpm")
        else:
            raise InputError(
                f"'{column.heading}' holds {middle:.4g} rpm at its middle; an engine speed is "
                f"{ENGINE_SPEED[0]:.0f} to {ENGINE_SPEED[1]:.0f} rpm",
                where=where,
                hint='say which column is the engine speed: --column engine_speed="..."',
            )
        _, middle, high = _span(column.si)
    low = _span(column.si)[0]
    if high - low < 0.02 * middle:
        raise InputError(
            f"the engine speed in '{column.heading}' does not change ({low:.0f} to {high:.0f} rpm)",
            where=where,
            hint="a pull covers a range of speeds; check the column",
        )


def _roller_speed(naming: Naming) -> None:
    column = naming.one("roller_speed")
    if column is None:
        return
    if column.unit is None:
        column.confidence = min(column.confidence, 0.5)
        column.reason += "; without a unit only its ratio to the engine speed is used"
    elif column.unit.kind == "speed" and not ROLLER[0] <= _span(column.si)[1] <= ROLLER[1]:
        column.overruled, column.unit, column.confidence = True, None, 0.4
        column.reason += "; the numbers cannot be that unit, only the ratio to the engine speed is used"


def _time(naming: Naming, where: str) -> None:
    column = naming.one("time")
    if column is None:
        naming.notes.append("no time in the file: rows are taken in order of engine speed, the sweep rate is unknown")
        return
    values = column.values[np.isfinite(column.values)]
    if values.size < 0.9 * column.values.size or np.ptp(values) == 0:
        column.reason, column.quantity = "time is empty or does not run: left out", None
        naming.notes.append("the time column cannot be used; the sweep rate is unknown")
        return
    if column.unit and (column.confirmed or _each_fits(naming, column)):
        return
    fitting = [u for u in units_of(("time",)) if SWEEP[0] <= np.ptp(values) * u.factor <= SWEEP[1]]
    plausible = [u for u in fitting if u.name != "min"]
    if len(plausible) > 1:  # 1 s to 600 s and 1000 to 600000 ms do not overlap but in a band nobody drives
        plausible = [u for u in plausible if u.name == "s"]
    if not plausible:
        raise InputError(
            f"'{column.heading}' spans {np.ptp(values):.4g}: as a time no pull lasts that",
            where=where,
            hint='name its unit (--as time=ms) or another column (--column time="...")',
        )
    overrule(column, plausible[0], f"a span of {np.ptp(values):.4g} is a pull's length in {plausible[0].name}", 0.9)


def _each_fits(naming: Naming, column: Column) -> bool:
    """Whether every pull in the file lasts as long as a pull can, in the unit that the heading names."""
    assert column.unit is not None
    spans = [
        np.nanmax(times) - np.nanmin(times)
        for part in split_naming(naming)
        if np.isfinite(times := column.values[part.rows] * column.unit.factor).any()
    ]
    return all(SWEEP[0] <= span <= SWEEP[1] for span in spans)


def _mixture(naming: Naming, column: Column, reading: Reading, where: str) -> None:
    """Lambda or AFR, by the numbers; AFR becomes lambda with the named fuel."""
    _, middle, _ = _span(column.values)
    if LAMBDA[0] <= middle <= LAMBDA[1]:
        if column.quantity == "afr":
            overrule(column, _unit("lambda"), "but the numbers are lambda")
            column.overruled = True
        column.quantity, column.unit = "lambda", _unit("lambda")
        return
    if not AFR[0] <= middle <= AFR[1]:
        raise InputError(
            f"'{column.heading}' holds {middle:.4g} at its middle, neither a lambda ({LAMBDA[0]} to "
            f"{LAMBDA[1]}) "
            f"nor an air-fuel ratio ({AFR[0]:.0f} to {AFR[1]:.0f})",
            where=where,
            hint="leave the column out of the export, or check the sensor",
        )
    scale, why = _afr_scale(naming, column, middle, reading)
    if column.quantity == "lambda":
        column.overruled, column.confidence = True, 0.8
        column.reason += ", but the numbers are an air-fuel ratio"
    column.reason += f"; {why}"
    column.quantity = "lambda"
    column.unit = Unit(name=f"AFR / {scale:g}", kind="afr", factor=1.0 / scale)


def _afr_scale(naming: Naming, column: Column, middle: float, reading: Reading) -> tuple[float, str]:
    own = reading.stoichiometric_afr
    if not reading.fuel:
        naming.questions.append(
            Question(
                about=column.heading,
                text="which fuel was it? An air-fuel ratio says nothing without (--afr, its stoichiometric ratio)",
                taken=f"petrol, or a display that keeps the petrol scale: lambda = AFR / {PETROL_AFR:g}",
            )
        )
        return PETROL_AFR, f"lambda = AFR / {PETROL_AFR:g} (petrol scale; the fuel was not named)"
    if abs(own - PETROL_AFR) < SAME_SCALE * PETROL_AFR:
        return PETROL_AFR, f"lambda = AFR / {PETROL_AFR:g} (scale of displays for {reading.fuel})"
    fits = [s for s in (own, PETROL_AFR) if FULL_THROTTLE[0] <= middle / s <= FULL_THROTTLE[1]]
    scale = fits[0] if len(fits) == 1 else PETROL_AFR if not fits else own
    if len(fits) != 1:
        naming.questions.append(
            Question(
                about=column.heading,
                text=f"is the AFR shown on the scale of the fuel ({own:g}) or on the petrol scale "
                f"({PETROL_AFR:g}) "
                "that most displays keep?",
                taken=f"{scale:g}",
            )
        )
    return scale, f"lambda = AFR / {scale:g}"


def _temperature(naming: Naming, column: Column) -> None:
    place = (column.quantity or "").removesuffix("_temperature")
    low, high = TEMPERATURE[place]
    fitting = [
        u for u in units_of(("temperature",))
        if low <= _span(column.values)[1] * u.factor + u.offset <= high
    ]  # fmt: skip
    if column.unit in fitting:
        return
    if len(fitting) == 1:
        overrule(column, fitting[0], f"the numbers fit {fitting[0].name} only")
    elif fitting and column.unit is None:
        column.unit = _unit("degC")
        naming.questions.append(Question(about=column.heading, text="which temperature unit is this?", taken="degC"))
    else:
        column.quantity, column.reason = None, f"the numbers are no {place} temperature: left out"


def _barometer(naming: Naming) -> None:
    for column in naming.of("air_pressure"):
        middle = _span(column.values)[1]
        fitting = [u for u in units_of(("pressure",)) if BAROMETER[0] <= middle * u.factor <= BAROMETER[1]]
        if column.unit in fitting:
            continue
        if len(fitting) == 1:
            overrule(column, fitting[0], f"the numbers fit {fitting[0].name} only")
        else:
            column.quantity, column.reason = (
                None,
                "no single unit makes these numbers an air pressure: left out",
            )
