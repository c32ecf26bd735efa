"""The values of a sheet that are in doubt, and the sheet with one of them moved."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pulsewright.bench.changes import Change, changed_text, key_of
from pulsewright.bench.jets import Jet
from pulsewright.bench.keys import Curve, Quantity
from pulsewright.bench.place import Place
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.bench.timing import Timing
from pulsewright.bench.toml_file import parse_toml
from pulsewright.errors import InputError
from pulsewright.new.doubts import Doubt, doubt_of
from pulsewright.units import show

WHERE = "the sheet"
_EACH = re.compile(r"^(carburettor|exhaust\.route|intake\.branch)\.\d+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A value in doubt. Like values of all cylinders or carburettors move together."""

    key: str  # with * in place of the number of a cylinder or carburettor
    doubt: Doubt
    assumed: bool
    written: str  # on the sheet, or as it was filled in
    places: tuple[tuple[str, Any], ...]  # (dotted path, what stands there)

    @property
    def half_width(self) -> str:
        """One standard deviation, for people."""
        size = self.doubt.of(assumed=self.assumed) or 0.0
        if self.doubt.share:
            return f"{size:.0%}"
        if "ratio" in self.key:
            return f"{size:g}"
        return f"{size:g}°" if size >= 1.0 else show(size, "length")


def values_in_doubt(text: str, setup: Setup) -> list[Value]:
    """All values of a sheet (its TOML text, and what was read from it) of which a doubt is known."""
    guesses = {a.key: a.value for a in setup.assumptions}
    stated = dict(_leaves(parse_toml(text, WHERE, lines=False)[0]))
    written = {**{path: guesses[path] for path in guesses}, **stated}
    rows: dict[tuple[str, bool], list[tuple[str, Any]]] = {}
    for path, value in written.items():
        doubt, assumed = doubt_of(path), path in guesses
        if doubt is not None and doubt.of(assumed=assumed) is not None:
            rows.setdefault((_EACH.sub(r"\1.*", path), assumed), []).append((path, value))
    return [
        Value(key=key, doubt=_doubt(places), assumed=assumed, written=_short(places[0][1]), places=tuple(places))
        for (key, assumed), places in rows.items()
    ]


def moved(text: str, value: Value, setup: Setup, way: float) -> Setup | None:
    """The setup with a value moved by `way` standard deviations; None where the sheet refuses that."""
    try:
        changes = [_change(text, path, stands, value, setup, way) for path, stands in value.places]
        return setup_from_text(changed_text(text, changes), WHERE, lines=False)
    except InputError:
        return None


def _doubt(places: list[tuple[str, Any]]) -> Doubt:
    doubt = doubt_of(places[0][0])
    assert doubt is not None
    return doubt


def _short(value: Any) -> str:
    return "curve" if str(value).startswith("[") else str(value)


def _leaves(data: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """(dotted path counting from 1, value) of everything on a sheet that is no table; curves stay whole."""
    if isinstance(data, dict):
        for key, each in data.items():
            yield from _leaves(each, (*path, str(key)))
    elif isinstance(data, list) and data and all(isinstance(each, dict) for each in data):
        for number, each in enumerate(data, 1):
            yield from _leaves(each, (*path, str(number)))
    else:
        yield ".".join(path), data


def _change(text: str, path: str, stands: Any, value: Value, setup: Setup, way: float) -> Change:
    size = way * (value.doubt.of(assumed=value.assumed) or 0.0)
    branch = re.fullmatch(r"intake\.branch\.(\d+)", path)
    if branch:
        duct = setup.intake.branch[int(branch[1])][0]
        bore = show(duct.bore_in, "length")
        return path, [{"length": show(duct.length + size, "length"), "bore": bore}]
    key = key_of(text, path, where=WHERE)
    if isinstance(key, Curve):
        return path, [[speed, angle + size] for speed, angle in setup.ignition.advance]
    number = _read(key, stands, path, setup)
    return path, _write(key, number * (1.0 + size) if value.doubt.share else number + size)


def _read(key: Any, stands: Any, path: str, setup: Setup) -> float:
    """The number behind what stands on the sheet, or behind an assumption's text."""
    if isinstance(key, Quantity) and key.kind == "ratio" and isinstance(stands, str):
        stands = float(stands.replace(",", "."))
    if isinstance(key, Timing) and "after firing" in str(stands):  # read off a lift table: the table rules, not this
        raise InputError(f"{path} follows from the lift table of {setup.name}")
    return key.read(stands, Place(WHERE, tuple(path.split("."))))


def _write(key: Any, number: float) -> Any:
    if isinstance(key, Timing):
        return key.write(number)
    if isinstance(key, Jet):
        return show(number, "length")
    return number if key.kind == "ratio" else show(number, key.kind)
