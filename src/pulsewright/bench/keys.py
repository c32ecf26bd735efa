"""What may stand behind one key of a sheet: a quantity, a number, a word, a list, a table.

Each kind of key knows its allowed range and turns what was written into plain Python values in SI units,
or raises an InputError that says what, where and what to try.
"""

import functools
import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from pulsewright import units
from pulsewright.bench.place import Place, found
from pulsewright.errors import InputError, did_you_mean


class Key(Protocol):
    """Anything that can stand behind a key."""

    def read(self, value: Any, place: Place) -> Any:
        """The value in SI units and plain Python; raises InputError."""
        ...


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity with a unit, in a range; bounds in the inside unit of its kind."""

    kind: str
    low: float
    high: float
    zero: bool = False  # 0 is allowed too, below `low`

    @property
    def range(self) -> str:
        """The allowed range, for people."""
        text = f"{units.show(self.low, self.kind)} to {units.show(self.high, self.kind)}"
        return f"0 or {text}" if self.zero and self.low > 0 else text

    def read(self, value: Any, place: Place) -> float:
        try:
            number = _quantity(value, self.kind) if isinstance(value, str) else units.quantity(value, self.kind)
        except InputError as error:
            raise place.error(f"{place.key}: {error.what}", f"{error.hint}; allowed: {self.range}") from None
        slack = 1e-9 * (self.high - self.low)  # so that '180 mm' is not above 0.18 m by rounding
        if self.low - slack <= number <= self.high + slack or (self.zero and number == 0.0):
            return number
        raise place.error(
            f"{place.key} is {found(value)}; allowed: {self.range}", "check the unit and the decimal point"
        )


@functools.lru_cache(maxsize=4096)
def _quantity(text: str, kind: str) -> float:
    """Sheets are read again and again while one value of them changes."""
    return units.quantity(text, kind)


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number in a range."""

    low: int
    high: int

    def read(self, value: Any, place: Place) -> int:
        number = int(value) if isinstance(value, str) and value.strip().isdecimal() else value
        if isinstance(number, float) and number.is_integer():
            number = int(number)
        if isinstance(number, bool) or not isinstance(number, int) or not self.low <= number <= self.high:
            raise place.error(
                f"{place.key} is {found(value)}; allowed: a whole number from {self.low} to {self.high}",
                f"write it without a unit, like {self.low}",
            )
        return number


@dataclass(frozen=True, slots=True)
class Word:
    """One of a few words."""

    choices: tuple[str, ...]

    def read(self, value: Any, place: Place) -> str:
        if isinstance(value, str) and value in self.choices:
            return value
        listed = ", ".join(f"'{word}'" for word in self.choices)
        raise place.error(f"{place.key} is {found(value)}; allowed: {listed}", self._nearest(value))

    def _nearest(self, value: Any) -> str:
        return did_you_mean(value if isinstance(value, str) else "", self.choices)


@dataclass(frozen=True, slots=True)
class Text:
    """Free text that is not empty."""

    longest: int = 2000

    def read(self, value: Any, place: Place) -> str:
        if isinstance(value, str) and value.strip() and len(value) <= self.longest:
            return value
        raise place.error(
            f"{place.key} is {found(value)}; allowed: text of 1 to {self.longest} characters",
            'write it in quotes, like "as it came in"',
        )


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    def read(self, value: Any, place: Place) -> bool:
        if isinstance(value, bool):
            return value
        raise place.error(f"{place.key} is {found(value)}; allowed: true or false", "write true without quotes")


@dataclass(frozen=True, slots=True)
class Many:
    """A list of the same thing."""

    item: Key
    least: int = 0
    most: int = 100

    def read(self, value: Any, place: Place) -> tuple[Any, ...]:
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            raise place.error(
                f"{place.key} is {found(value)}; allowed: a list of {self.least} to {self.most} entries",
                "write it in square brackets, like [90, 45]",
            )
        return tuple(self.item.read(each, place / number) for number, each in enumerate(value, 1))


@dataclass(frozen=True, slots=True)
class Row:
    """A list of fixed length, each place with its own meaning."""

    items: tuple[Key, ...]
    example: str

    def read(self, value: Any, place: Place) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) != len(self.items):
            raise place.error(
                f"{place.key} is {found(value)}; allowed: a list of {len(self.items)} entries",
                f"write it like {self.example}",
            )
        pairs = zip(self.items, value, strict=True)
        return tuple(item.read(each, place / number) for number, (item, each) in enumerate(pairs, 1))


@dataclass(frozen=True, slots=True)
class Curve:
    """Rows [x, y] with x rising from row to row."""

    row: Row
    least: int = 1
    most: int = 1000

    def read(self, value: Any, place: Place) -> tuple[tuple[float, float], ...]:
        rows = Many(self.row, self.least, self.most).read(value, place)
        for number, (before, after) in enumerate(itertools.pairwise(rows), 2):
            if after[0] <= before[0]:
                raise (place / number).error(
                    f"{place.key}.{number} starts with {after[0]:g}; allowed: above {before[0]:g} before it",
                    "sort the rows by their first number and leave out repeats",
                )
        return rows


@dataclass(frozen=True, slots=True)
class Table:
    """A table with known keys; an unknown key is refused with the nearest known ones."""

    keys: Mapping[str, Key]
    required: tuple[str, ...] = ()

    def read(self, value: Any, place: Place) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise place.error(
                f"{place.key or 'the file'} is {found(value)}; allowed: a table",
                f"known here: {', '.join(self.keys)}",
            )
        for name in value:
            if name not in self.keys:
                raise (place / name).error(f"unknown key '{name}'", did_you_mean(name, self.keys))
        for name in self.required:
            if name not in value:
                raise (place / name).error(f"{(place / name).key} is missing", f"add {name} to the sheet")
        return {name: self.keys[name].read(each, place / name) for name, each in value.items()}


@dataclass(frozen=True, slots=True)
class Tables:
    """A list of tables, [[name]] in the file."""

    table: Table
    least: int = 0
    most: int = 100

    def read(self, value: Any, place: Place) -> list[dict[str, Any]]:
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            raise place.error(
                f"{place.key} is {found(value)}; allowed: {self.least} to {self.most} tables",
                f"write each under a heading [[{place.path[-1]}]]",
            )
        return [self.table.read(each, place / number) for number, each in enumerate(value, 1)]


@dataclass(frozen=True, slots=True)
class Numbered:
    """One entry for each cylinder, keyed by its number."""

    item: Key
    most: int

    def read(self, value: Any, place: Place) -> dict[int, Any]:
        if not isinstance(value, Mapping):
            raise place.error(
                f"{place.key} is {found(value)}; allowed: one entry for each cylinder",
                f"write {place.path[-1]}.1 = ..., {place.path[-1]}.2 = ...",
            )
        for name in value:
            if not (str(name).isdecimal() and 1 <= int(name) <= self.most and str(int(name)) == str(name)):
                raise (place / name).error(
                    f"'{name}' is not a cylinder number; allowed: 1 to {self.most}",
                    f"write {place.path[-1]}.1 = ... for cylinder 1",
                )
        return {int(name): self.item.read(each, place / name) for name, each in value.items()}


@dataclass(frozen=True, slots=True)
class Named:
    """One entry for each name that the user has given."""

    item: Key

    def read(self, value: Any, place: Place) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise place.error(
                f"{place.key} is {found(value)}; allowed: one entry for each name",
                f'write {place.path[-1]}."name" = ...',
            )
        return {str(name): self.item.read(each, place / name) for name, each in value.items()}


@dataclass(frozen=True, slots=True)
class Either:
    """A table with a choice in one of its keys that decides which other keys it has."""

    choice: str
    tables: Mapping[str, Table]

    def read(self, value: Any, place: Place) -> dict[str, Any]:
        if not isinstance(value, Mapping) or self.choice not in value:
            raise place.error(
                f"{place.key} is {found(value)}; allowed: a table with {self.choice} = ...",
                f"known for {self.choice}: {', '.join(self.tables)}",
            )
        word = Word(tuple(self.tables)).read(value[self.choice], place / self.choice)
        return self.tables[word].read(value, place)
