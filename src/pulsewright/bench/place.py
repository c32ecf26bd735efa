"""Where in a sheet a value stands, for errors and assumptions."""

import reprlib
from dataclasses import dataclass, field

from pulsewright.bench.assumption import Assumption
from pulsewright.bench.toml_lines import line_numbers
from pulsewright.errors import InputError


@dataclass(frozen=True, slots=True)
class Place:
    """One key of one file, and the list in which assumptions about this file are collected."""

    file: str
    path: tuple[str, ...] = ()
    text: str | None = None  # TOML of the file, for line numbers; None: they would mean nothing to the reader
    assumptions: list[Assumption] = field(default_factory=list)

    def __truediv__(self, key: str | int) -> "Place":
        """The place of a key or an element (counted from 1) below this one."""
        return Place(self.file, (*self.path, str(key)), self.text, self.assumptions)

    @property
    def key(self) -> str:
        """The dotted path, as `--set` takes it."""
        return ".".join(self.path)

    @property
    def where(self) -> str:
        """File, line where it is known, and key."""
        line = self._line()
        parts = [self.file, f"line {line}" if line else "", self.key]
        return ", ".join(part for part in parts if part)

    def error(self, what: str, hint: str) -> InputError:
        """An error that points here."""
        return InputError(" ".join(what.split()), where=self.where, hint=" ".join(hint.split()))

    def assume(self, value: str, why: str) -> None:
        """Record that this key was filled in."""
        self.assumptions.append(Assumption(key=self.key, value=value, why=why))

    def _line(self) -> int | None:
        """The line of this key, or of the nearest table around it that has one."""
        lines = line_numbers(self.text) if self.text else {}  # only an error pays for this
        for length in range(len(self.path), 0, -1):
            if line := lines.get(".".join(self.path[:length])):
                return line
        return None


def found(value: object) -> str:
    """A value as it stands in the sheet, cut to a readable length."""
    return repr(value) if isinstance(value, bool | int | float) else reprlib.repr(value)
