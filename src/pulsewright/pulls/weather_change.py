"""The air changed over the session: torque is corrected for it, the mixture is not."""

from __future__ import annotations

import math

import numpy as np

from pulsewright.physics.humid_air import density, vapour_pressure
from pulsewright.physics.weather_correction import correction
from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.weather import STANDARD, Weather


def weather_change(weather: list[Weather], limits: Limits = USUAL) -> Finding | None:
    """The change over the session, in the order of the pulls, or None. One odd reading is outvoted."""
    known = [k for k, each in enumerate(weather) if math.isfinite(each.pressure)]
    if len(known) < 2:
        return None
    smooth = _outvoted(np.array([_factor(weather[k]) for k in known]))
    ends = sorted((known[int(smooth.argmin())], known[int(smooth.argmax())]))
    change = float(smooth.max() / smooth.min() - 1.0)
    if change <= limits.weather:
        return None
    before, after = (weather[k] for k in ends)
    leaner = math.sqrt(_density(after) / _density(before)) - 1.0  # air goes with its density, a jet with its root
    corrected = "torque is not corrected for it here" if after.standard == "raw" else "torque is corrected for it"
    return Finding(
        kind="weather change", setup=None, pull=None, rpm=None, strength=odds_of(change / limits.weather),
        evidence=f"from pull {ends[0] + 1} to pull {ends[1] + 1} the air alone moved torque by {change:.1%} "
        f"({_said(before)}; then {_said(after)}); {corrected}, the mixture never is: it went about {abs(leaner):.1%} "
        + ("leaner" if leaner > 0.0 else "richer"),
    )  # fmt: skip


def _factor(weather: Weather) -> float:
    vapour = vapour_pressure(weather.temperature, weather.humidity)
    return float(correction(STANDARD, weather.temperature, weather.pressure, vapour))


def _outvoted(values: np.ndarray) -> np.ndarray:
    """Median of each value and its neighbours; at the ends of the two that there are. (n,)"""
    count = values.size
    return np.array([np.median(values[max(0, k - 1) : min(count, k + 2)]) for k in range(count)])


def _density(weather: Weather) -> float:
    return density(weather.temperature, weather.pressure, weather.humidity)


def _said(weather: Weather) -> str:
    return f"{weather.temperature - 273.15:.0f} degC, {weather.pressure / 1e3:.1f} kPa, {weather.humidity:.0%}"
