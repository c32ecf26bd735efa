"""Valve timing as a cam card writes it: '22 deg BTDC', '54 deg after bottom dead centre'."""

import re
from dataclasses import dataclass
from typing import Any

from pulsewright import units
from pulsewright.bench.place import Place, found
from pulsewright.errors import InputError

_SIDES = {"b": -1.0, "before": -1.0, "a": 1.0, "after": 1.0}
_PATTERN = re.compile(
    r"^(?P<angle>.+?)\s*\b(?P<side>before|after|b|a)\s*\.?\s*"
    r"(?P<centre>t|b|top|bottom)\s*\.?\s*(?:d\s*\.?\s*c\.?|c\.?|dead[\s-]*(?:centre|center))$",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Timing:
    """An opening or closing, counted from one of the two dead centres.

    `centre_deg` is that dead centre in crank degrees after firing top dead centre; the range is relative
    to it.
    """

    centre: str  # "top" or "bottom"
    centre_deg: float  # [deg]
    low: float  # [deg] earliest, relative to the dead centre
    high: float  # [deg] latest
    example: str

    @property
    def range(self) -> str:
        """The allowed range, for people."""
        return f"{self._side(self.low)} to {self._side(self.high)}"

    def read(self, value: Any, place: Place) -> float:
        """Crank degrees after firing top dead centre. [deg]"""
        match = _PATTERN.match(value.strip()) if isinstance(value, str) else None
        if match is None:
            raise self._refused(f"{place.key} is {found(value)}; no angle before or after a dead centre", place)
        if not self.centre.startswith(match["centre"][0].lower()):
            raise self._refused(f"{place.key} is {found(value)}; this event is counted from {self._centre}", place)
        try:
            angle = units.quantity(match["angle"], "angle_deg")
        except InputError as error:
            raise self._refused(f"{place.key} is {found(value)}; {error.what}", place) from None
        relative = _SIDES[match["side"].lower()] * angle
        if not self.low <= relative <= self.high:
            raise self._refused(f"{place.key} is {found(value)}; allowed: {self.range}", place)
        return self.centre_deg + relative

    def write(self, angle_deg: float, *, anywhere: bool = False) -> str:
        """Crank degrees after firing top dead centre as a cam card writes them, to a tenth of a degree.

        Raises InputError outside the range, unless `anywhere`.
        """
        relative = round(angle_deg - self.centre_deg, 1)
        if not (anywhere or self.low <= relative <= self.high):
            raise InputError(
                f"{relative:+g} deg from {self._centre} is no such timing; allowed: {self.range}",
                hint=f"write it like '{self.example}'",
            )
        return f"{abs(relative):g} deg {'B' if relative < 0 else 'A'}{self.centre[0].upper()}DC"

    @property
    def _centre(self) -> str:
        return f"{self.centre} dead centre"

    def _side(self, relative: float) -> str:
        return f"{abs(relative):g} deg {'after' if relative > 0 else 'before'} {self._centre}"

    def _refused(self, what: str, place: Place) -> InputError:
        return place.error(what, f"write it like '{self.example}'; allowed: {self.range}")


INTAKE_OPENS = Timing("top", 360.0, -100.0, 60.0, "22 deg BTDC")
INTAKE_CLOSES = Timing("bottom", 540.0, -40.0, 120.0, "54 deg ABDC")
EXHAUST_OPENS = Timing("bottom", 180.0, -120.0, 40.0, "54 deg BBDC")
EXHAUST_CLOSES = Timing("top", 360.0, -60.0, 100.0, "22 deg ATDC")
