"""An estimate with its band, and the lines in which it can stand on a sheet.

Bands    every reading is believed within a half-width; each is moved alone to its two ends, and what that does
         to the answer is added as root of squares, up and down apart (JCGM 100:2008, the GUM, section 5.1:
         independent inputs).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pulsewright.units import show

FORMAT = "pulsewright estimate 1"
DIGITS = 3  # of a value on the sheet


@dataclass(frozen=True, slots=True)
class Reading:
    """A number and the ends between which it is believed, in one unit."""

    value: float
    low: float
    high: float

    @classmethod
    def within(cls, value: float, doubt: float) -> Reading:
        """A number believed within `doubt` on both sides."""
        return cls(value, value - doubt, value + doubt)

    @classmethod
    def within_share(cls, value: float, share: float) -> Reading:
        """A number believed within a share of itself."""
        return cls.within(value, share * value)


def with_band(function: Callable[..., float], **readings: Reading) -> Reading:
    """What a function makes of readings, with its band. The function takes their numbers by name."""
    middle = {name: reading.value for name, reading in readings.items()}
    answer = function(**middle)
    moves = [
        function(**{**middle, name: end}) - answer
        for name, r in readings.items()
        for end in {r.low, r.high} - {r.value}
    ]
    down = math.sqrt(sum(min(move, 0.0) ** 2 for move in moves))
    up = math.sqrt(sum(max(move, 0.0) ** 2 for move in moves))
    return Reading(answer, answer - down, answer + up)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One key of the sheet. `text` is how its value is written there, quotes left out."""

    key: str
    text: str
    reading: Reading | None = None  # None: as it was given
    band: str = ""  # both ends, for people
    quoted: bool = True

    @classmethod
    def of(cls, key: str, reading: Reading, kind: str) -> Line:
        """A quantity of a kind of `units`; a ratio needs no quotes."""
        low, high = (show(end, kind, digits=DIGITS) for end in (reading.low, reading.high))
        text = show(reading.value, kind, digits=DIGITS)
        return cls(key=key, text=text, reading=reading, band=f"{low} to {high}", quoted=kind != "ratio")

    @property
    def toml(self) -> str:
        """As it stands on the sheet, with its band as a comment."""
        value = f'"{self.text}"' if self.quoted else self.text
        return f"{self.key} = {value}" + (f"  # {self.band}" if self.band else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What was estimated, for which table of the sheet, from what, and what to be careful about."""

    kind: str
    sentence: str  # the answer in one line
    table: str  # dotted path that counts from 1, as `--set` takes it
    lines: tuple[Line, ...]
    why: str  # relation and source
    cautions: tuple[str, ...] = ()
    more: tuple[tuple[str, Any], ...] = ()  # further numbers for programs

    @property
    def toml(self) -> str:
        """Text to paste into a sheet: everything that is no key is a comment."""
        said = [self.sentence, self.why, *(f"careful: {caution}" for caution in self.cautions)]
        place = f"for the sheet, under {heading(self.table)}:"
        return "\n".join([*(f"# {line}" for line in [*said, place]), *(line.toml for line in self.lines)])

    def as_json(self) -> dict[str, Any]:
        """Plain data; values in the inside units of `units` (SI, degrees)."""
        return {
            "format": FORMAT,
            "kind": self.kind,
            "text": self.sentence,
            "values": [self._value(line) for line in self.lines],
            "why": self.why,
            "cautions": list(self.cautions),
            **dict(self.more),
        }

    def _value(self, line: Line) -> dict[str, Any]:
        r = line.reading
        ends = {"value": r.value, "low": r.low, "high": r.high} if r else {}
        return {"key": f"{self.table}.{line.key}", "written": line.text, **ends}


def heading(table: str) -> str:
    """The heading of a table in a sheet: [engine.intake_port], [[carburettor]] for one of several."""
    name, _, number = table.rpartition(".")
    if not number.isdecimal():
        return f"[{table}]"
    return f"[[{name}]]" + ("" if number == "1" else f" number {number}")
