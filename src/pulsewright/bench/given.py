"""What a table of the sheet gives, and what has to be filled in."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pulsewright.bench.place import Place
from pulsewright.units import show

PRACTICE = "common practice, no published source"
MEMORY = "from memory"
NOT_GIVEN = "not on the sheet"


@dataclass(frozen=True, slots=True)
class Given:
    """The checked values of one table, in SI units, and its place."""

    values: Mapping[str, Any]
    place: Place

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def __getitem__(self, key: str) -> Any:
        return self.values[key]

    def below(self, key: str) -> "Given":
        """A table in this table; empty where it is left out."""
        return Given(self.values.get(key, {}), self.place / key)

    def quantity(self, key: str, default: float, kind: str, why: str) -> float:
        """The quantity that the sheet gives, or the default, recorded as an assumption."""
        if key not in self.values:
            (self.place / key).assume(show(default, kind), f"{NOT_GIVEN}; {why}")
        return self.values.get(key, default)

    def plain(self, key: str, default: Any, why: str) -> Any:
        """A word, a number or a list that the sheet gives, or the default, recorded as an assumption."""
        if key not in self.values:
            (self.place / key).assume(written(default), f"{NOT_GIVEN}; {why}")
        return self.values.get(key, default)


def written(value: Any) -> str:
    """A default without a unit, as a person would write it."""
    if isinstance(value, tuple | list) and not value:
        return "none"
    if isinstance(value, tuple | list):
        return "[" + ", ".join(written(each) for each in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def rounded(length: float) -> float:
    """A length that a person would write down: to a tenth of a millimetre. [m]"""
    return round(length, 4)
