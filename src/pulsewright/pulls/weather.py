"""Weather correction of a pull: which air it was made in, and the factor on its torque.

The session's entry for the pull comes first, the file's own channels second. Without either, the torque stays
raw and says so. One standard is used for a whole session; no factor corrects the mixture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from pulsewright.errors import UsageError
from pulsewright.physics.humid_air import vapour_pressure
from pulsewright.physics.weather_correction import FACTORS, correction, doubts
from pulsewright.pulls.pull import Pull

STANDARD = "J1349"
UNKNOWN_HUMIDITY = 0.5  # [-] taken when no humidity was logged: indoors 0.2 to 0.8, 0.5 % of torque at 25 degC


class AirLike(Protocol):
    """Air of a pull: temperature [K], pressure [Pa] barometric, humidity [-]."""

    @property
    def temperature(self) -> float: ...
    @property
    def pressure(self) -> float: ...
    @property
    def humidity(self) -> float: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Air and correction factor of one pull."""

    temperature: float  # [K] NaN where unknown
    pressure: float  # [Pa]
    humidity: float  # [-]
    standard: str  # "J1349", "ISO1585", "STD", "DIN70020" or "raw"
    factor: float  # [-] on torque and power
    notes: tuple[str, ...] = ()


def pull_weather(pull: Pull, air: AirLike | None, standard: str = STANDARD) -> Weather:
    """Weather of a pull from the session's entry or the file's channels."""
    if standard != "raw" and standard not in FACTORS:
        raise UsageError(f"'{standard}' is no correction", hint=f"one of raw, {', '.join(FACTORS)}")
    values, notes = _air(pull, air)
    if values is None:
        return Weather(
            temperature=np.nan, pressure=np.nan, humidity=np.nan, standard="raw", factor=1.0,
            notes=("no air temperature and pressure for this pull: torque is raw",),
        )  # fmt: skip
    temperature, pressure, humidity = values
    factor, warnings = 1.0, ()
    if standard != "raw":
        vapour = vapour_pressure(temperature, humidity)
        factor = correction(standard, temperature, pressure, vapour)
        warnings = doubts(standard, temperature, pressure, vapour)
    return Weather(
        temperature=temperature, pressure=pressure, humidity=humidity, standard=standard,
        factor=float(factor),
        notes=(*notes, *warnings),
    )  # fmt: skip


def _air(pull: Pull, air: AirLike | None) -> tuple[tuple[float, float, float] | None, tuple[str, ...]]:
    if air is not None:
        return (air.temperature, air.pressure, air.humidity), ()
    warm, baro = pull.temperatures.get("air"), pull.air_pressure
    if warm is None or baro is None:
        return None, ()
    notes = ()
    damp = float(np.nanmedian(pull.humidity)) if pull.humidity is not None else UNKNOWN_HUMIDITY
    if pull.humidity is None:
        notes = (f"no humidity logged: {UNKNOWN_HUMIDITY:.0%} taken",)
    return (float(np.nanmedian(warm)), float(np.nanmedian(baro)), damp), notes
