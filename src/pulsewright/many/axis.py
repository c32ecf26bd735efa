"""One thing that is varied: `PATH=a:b:n`, from a to b in n values, or between a and b where designs are drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.changes import key_of
from pulsewright.bench.keys import Whole
from pulsewright.bench.place import Place
from pulsewright.bench.toml_file import parse_toml
from pulsewright.errors import InputError, UsageError
from pulsewright.units import number_and_unit

DIGITS = 10  # of a value in a changed sheet
MOST_VALUES = 10_000  # on one axis
FORM = "write --vary 'exhaust.route.1.1.length=800 mm:1000 mm:5' (path, from, to, how many)"


@dataclass(frozen=True, slots=True)
class Axis:
    """A dotted path of the sheet, and where its value goes. `low` and `high` are in `unit`, as written."""

    path: str
    low: float
    high: float
    count: int | None  # None: only its ends were given, which is enough to draw from
    unit: str
    whole: bool = False  # only whole numbers can stand there

    @property
    def heading(self) -> str:
        """Name of its column."""
        return f"{self.path} [{self.unit}]" if self.unit else self.path

    def text(self, value: float) -> str:
        """A value as the sheet has it."""
        return f"{value:.{DIGITS}g} {self.unit}".rstrip()

    def grid(self) -> np.ndarray:
        """The values of a full grid. (count,)"""
        if self.count is None:
            raise _error(f"how many values of {self.path} is not said", FORM)
        values = rounded(np.linspace(self.low, self.high, self.count))
        if self.whole and np.any(values != np.round(values)):
            raise _error(f"{self.path} takes whole numbers only", "choose a count that meets them, like 1:4:4")
        return values

    def spread(self, unit_values: np.ndarray) -> np.ndarray:
        """Values in 0..1 stretched over the axis; whole numbers come equally often."""
        if self.whole:
            return np.minimum(self.low + np.floor(unit_values * (self.high - self.low + 1.0)), self.high)
        return rounded(self.low + unit_values * (self.high - self.low))


def parse_vary(text: str, sheet_text: str, where: str) -> Axis:
    """The axis of a `--vary`, checked against the sheet.

    Raises
    ------
    UsageError : not of the form PATH=a:b:n.
    InputError : a path that the sheet does not know, with the nearest ones; or neither end can stand there.
    """
    path, sign, rest = text.partition("=")
    parts = rest.split(":")
    if not sign or not path.strip() or len(parts) not in (2, 3):
        raise _error(f"'{text}' is no variation", FORM)
    low, high = _end(parts[0], text), _end(parts[1], text)
    if low[1] and low[1] != high[1]:
        raise _error(f"'{text}' goes from '{low[1]}' to '{high[1]}'", "write both ends in the same unit")
    if not high[0] > low[0]:
        raise _error(f"'{text}' goes from {low[0]:g} to {high[0]:g}", "write the lower end first")
    key = key_of(sheet_text, path.strip(), where=where)
    count = _count(parts[2], text) if len(parts) == 3 else None
    axis = Axis(path.strip(), low[0], high[0], count, high[1], isinstance(key, Whole))
    _check_ends(axis, sheet_text, where)
    return axis


def rounded(values: np.ndarray) -> np.ndarray:
    """Values with the digits that are written into the sheet, so that a table and the sheet say the same."""
    return np.array([float(f"{value:.{DIGITS}g}") for value in values])


def _check_ends(axis: Axis, sheet_text: str, where: str) -> None:
    """Refuse an axis of which neither end can stand there; what lies beyond one limit is told design by design."""
    key = key_of(sheet_text, axis.path, where=where)
    place = Place(where, tuple(axis.path.split(".")))
    errors = []
    for value in (axis.low, axis.high):
        text = axis.text(value)
        try:
            key.read(parse_value(text), place)
        except InputError as error:
            errors.append(error)
    if len(errors) == 2:
        raise errors[0]


def parse_value(text: str) -> str | float | int:
    """A number where the text is one, else the text."""
    try:
        return parse_toml(f"value = {text}", "")[0]["value"]
    except InputError:
        return text


def _end(text: str, whole: str) -> tuple[float, str]:
    end = number_and_unit(text)
    if end is None or not math.isfinite(end[0]):
        raise _error(f"'{text.strip()}' in '{whole}' is no number with its unit", FORM)
    return end


def _count(text: str, whole: str) -> int:
    if not text.strip().isdecimal() or not 2 <= int(text) <= MOST_VALUES:
        raise _error(f"'{text.strip()}' in '{whole}' is no count; 2 to {MOST_VALUES} is allowed", FORM)
    return int(text)


def _error(what: str, hint: str) -> UsageError:
    return UsageError(what, where="--vary", hint=hint)
