"""The catalogue: what a workshop can change with its time, price and cautions, and tests that change nothing.

The general one lies beside this file. A shop's own file adds entries, changes keys of known ones by their name,
and leaves out what it does not do (`use = false`).
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from pulsewright.bench.carburettor import FIXED, SLIDE, SUCTION
from pulsewright.bench.fill_exhaust import OPEN_AREA
from pulsewright.bench.keys import Either, Flag, Key, Many, Quantity, Table, Text, Whole, Word
from pulsewright.bench.place import Place
from pulsewright.bench.toml_file import parse_toml, read_text

FORMAT = "pulsewright catalogue 1"
OWNED, TO_MAKE, TO_BUY = "owned", "to make", "to buy"
FUEL, EXHAUST, IGNITION, INTAKE = "fuel", "exhaust", "ignition", "intake"
JETS = ("main_jet", "intermediate_jet", "main_air_bleed", "intermediate_air_bleed", "needle_jet")
NEEDLE_CLIP, CUTAWAY = "needle clip", "cutaway"
EMULSION_TUBE, PUMP = "emulsion tube", "accelerator pump"
PULLED = "pulled"  # no kind of the catalogue: a setup of the session that has pulls
END_PIECES = ("plate", "cross-bolt", "disc", "insert")
MOST_OPTIONS = 20  # of one entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One kind of change with its options, which `change_rows` turns into rows for a sheet."""

    name: str
    kind: str
    group: str  # FUEL, EXHAUST, IGNITION or INTAKE
    title: str
    minutes: float  # to make it, pulls not counted
    cost: float  # in the catalogue's money, work not counted
    reversible: bool
    stock: str  # OWNED, TO_MAKE or TO_BUY
    note: str
    law: str
    noise: str
    values: Mapping[str, Any]  # the keys of its kind, in SI units
    carburettors: tuple[str, ...] = ()  # kinds that it is for; empty: all


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """Something to do that changes nothing on the sheet."""

    name: str
    do: str
    expect: str
    tells_apart: tuple[str, ...]
    minutes: float
    verdicts: tuple[str, ...]  # it is the next step for these
    finding: str  # of the pulls that calls for it; empty: none
    sure: float  # probability that it comes out as its cause says


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """What can be done in one workshop."""

    changes: tuple[Entry, ...]
    tests: tuple[Test, ...]
    money: str
    own: str = ""  # the shop's file; empty: the general catalogue alone
    kits: Mapping[str, tuple[float, ...]] = field(default_factory=dict)  # sizes by name of a jet entry, rising [m]

    def test(self, name: str) -> Test:
        """The test of that name; the general one where the shop leaves it out."""
        return next((t for t in self.tests if t.name == name), None) or general_catalogue().test(name)

    def change(self, name: str) -> Entry | None:
        """The change of that name, None where the shop leaves it out."""
        return next((e for e in self.changes if e.name == name), None)


def _mm(low: float, high: float) -> Quantity:
    return Quantity("length", low * 1e-3, high * 1e-3)


@dataclass(frozen=True, slots=True)
class _Sizes:
    """A kit: a list of bores, or from, to and step. Rising bores. [m]"""

    def read(self, value: Any, place: Place) -> tuple[float, ...]:
        bore = _mm(0.15, 6.0)
        if not isinstance(value, Mapping):
            return tuple(sorted(set(Many(bore, 1, 200).read(value, place))))
        rule = Table({"from": bore, "to": bore, "step": _mm(0.005, 1.0)}, ("from", "to", "step")).read(value, place)
        count = int((rule["to"] - rule["from"]) / rule["step"] + 1e-6)
        if not 0 <= count < 200:
            raise place.error(f"{place.key} makes {count + 1} sizes; allowed: 1 to 200", "check from, to and step")
        return tuple(rule["from"] + k * rule["step"] for k in range(count + 1))


def _some(item: Key) -> Many:
    return Many(item, 1, MOST_OPTIONS)


_SHARE = Quantity("fraction", 0.02, 0.95)
_RATIO = Quantity("ratio", 0.3, 4.0)
_LENGTHS = _some(_mm(10.0, 2000.0))
_BY = _some(_mm(-2000.0, 2000.0))
_COMMON: dict[str, Key] = {
    "kind": Text(30),
    "title": Text(80),
    "minutes": Quantity("ratio", 0.0, 10_000.0),
    "cost": Quantity("ratio", 0.0, 1e6),
    "reversible": Flag(),
    "stock": Word((OWNED, TO_MAKE, TO_BUY)),
    "note": Text(300),
    "law": Text(300),
    "noise": Text(300),
    "carburettors": Many(Word((FIXED, SLIDE, SUCTION)), 1, 3),
    "use": Flag(),
}
# kind -> group, keys that it needs, keys that it may have
KINDS: dict[str, tuple[str, dict[str, Key], dict[str, Key]]] = {
    "jet": (FUEL, {"of": Word(JETS), "sizes": _Sizes()}, {"most": Whole(1, 10)}),
    "jets in step": (FUEL, {"kits": Many(Text(60), 2, 4), "steps": _some(Whole(-10, 10))}, {}),
    NEEDLE_CLIP: (FUEL, {"by": _some(Whole(-8, 8))}, {"grooves": Whole(2, 9)}),
    CUTAWAY: (FUEL, {"sizes": _Sizes()}, {"most": Whole(1, 10)}),
    EMULSION_TUBE: (FUEL, {}, {"shift": _some(_mm(-30.0, 30.0)), "bores": _some(_RATIO)}),
    PUMP: (FUEL, {"by": _some(Quantity("fraction", -0.9, 3.0))}, {}),
    "plate": (EXHAUST, {"blocks": _some(_SHARE)}, {"from_end": _mm(5, 500)}),
    "plate angle": (EXHAUST, {"angles": _some(Quantity("angle_deg", 0.0, 90.0))}, {}),
    "cross-bolt": (EXHAUST, {"diameters": _some(_mm(2, 40))}, {"from_end": _mm(5, 500)}),
    "disc": (EXHAUST, {"open": _some(_SHARE)}, {}),
    "insert": (EXHAUST, {"lengths": _LENGTHS, "bore_shares": _some(_SHARE)}, {"packed": Flag()}),
    "take out": (EXHAUST, {"of": _some(Word(END_PIECES))}, {}),
    "pipe length": (EXHAUST, {"by": _BY}, {}),
    "pipe bore": (EXHAUST, {"by": _BY}, {}),
    "cone": (EXHAUST, {"lengths": _LENGTHS, "opens_to": _some(_RATIO)}, {}),
    "muffler": (
        EXHAUST,
        {"body_lengths": _LENGTHS},
        {"body_ratio": _RATIO, "core_ratio": _RATIO, "core": Word(tuple(OPEN_AREA))},
    ),
    "repack": (EXHAUST, {}, {}),
    "collector": (EXHAUST, {"lengths": _LENGTHS}, {"bore_ratio": _RATIO}),
    "crossover": (EXHAUST, {"at_shares": _some(_SHARE)}, {"bore_ratio": _RATIO, "length": _mm(5, 1000)}),
    "ignition": (IGNITION, {"by": _some(Quantity("angle_deg", -20.0, 20.0))}, {}),
    "stack": (INTAKE, {"by": _BY}, {}),
    "filter": (INTAKE, {"fitted": Flag()}, {"loss": Quantity("ratio", 0.0, 50.0)}),
}
_CHANGE = Either(
    "kind",
    {
        kind: Table({**_COMMON, **needed, **more}, ("title", "minutes", *needed))
        for kind, (_, needed, more) in KINDS.items()
    },
)
_TEST = Table(
    {
        "do": Text(400),
        "expect": Text(400),
        "tells_apart": Many(Text(40), 0, 10),
        "minutes": Quantity("ratio", 0.0, 10_000.0),
        "for": Many(Text(40), 0, 12),
        "finding": Text(40),
        "sure": Quantity("fraction", 0.5, 1.0),
        "use": Flag(),
    },
    ("do", "expect", "minutes"),
)
_USUALLY_SURE = 0.85  # assumed
_TOP = Table(
    {"format": Word((FORMAT,)), "money": Text(20), "change": Table({}), "test": Table({})}, required=("format",)
)


@functools.cache
def general_catalogue() -> Catalogue:
    """The catalogue that comes with the package."""
    text = files("pulsewright.remedies").joinpath("catalogue.toml").read_text(encoding="utf-8")
    return _built(text, "the general catalogue", own="")


def read_catalogue(path: Path) -> Catalogue:
    """The general catalogue with a shop's own file laid over it.

    Raises InputError for an unknown name or key, a wrong unit, a value out of bounds or something missing.
    """
    return _built(read_text(path), str(path), own=str(path))


def _built(text: str, where: str, *, own: str) -> Catalogue:
    data, place = parse_toml(text, where)
    _check_top(data, place)
    below, below_place = _general() if own else ({}, place)
    changes = [_entry(*row) for row in _laid_over("change", data, place, below, below_place, _CHANGE)]
    tests = [_test(*row) for row in _laid_over("test", data, place, below, below_place, _TEST)]
    kits = {e.name: e.values["sizes"] for e in changes if e.kind == "jet"}
    mine = data.get("change", {})
    changes = [e for e in changes if e.name in mine or all(k in kits for k in e.values.get("kits", ()))]
    catalogue = Catalogue(
        changes=tuple(changes),
        tests=tuple(tests),
        money=str(data.get("money", below.get("money", ""))),
        own=own,
        kits=kits,
    )
    _check_kits(catalogue, place)
    return catalogue


def _general() -> tuple[dict[str, Any], Place]:
    text = files("pulsewright.remedies").joinpath("catalogue.toml").read_text(encoding="utf-8")
    return parse_toml(text, "the general catalogue")


def _check_top(data: Mapping[str, Any], place: Place) -> None:
    _TOP.read({key: value for key, value in data.items() if key not in ("change", "test")}, place)
    for room in ("change", "test"):
        entries = data.get(room, {})
        if not isinstance(entries, Mapping) or not all(isinstance(each, Mapping) for each in entries.values()):
            raise (place / room).error(
                f"{room} is no table of tables", f"write [{room}.NAME] for every entry and its keys below"
            )


def _laid_over(
    room: str, data: Mapping[str, Any], place: Place, below: Mapping[str, Any], below_place: Place, schema: Key
) -> list[tuple[str, dict[str, Any]]]:
    """Every entry of a room with the shop's keys over the general ones, those in use, checked."""
    own, general = data.get(room, {}), below.get(room, {})
    rows = []
    for name in [*general, *(n for n in own if n not in general)]:
        raw = dict(general.get(name, {}))
        mine = own.get(name, {})
        if mine.get("kind", raw.get("kind")) != raw.get("kind"):
            raw = {}  # another kind has other keys
        where = (place if mine else below_place) / room / name
        values = schema.read({**raw, **mine}, where)
        if values.pop("use", True):
            rows.append((name, values))
    return rows


def _entry(name: str, values: dict[str, Any]) -> Entry:
    kind = values["kind"]
    group, needed, more = KINDS[kind]
    return Entry(
        name=name,
        kind=kind,
        group=group,
        title=values["title"],
        minutes=values["minutes"],
        cost=values.get("cost", 0.0),
        reversible=values.get("reversible", True),
        stock=values.get("stock", OWNED),
        note=values.get("note", ""),
        law=values.get("law", ""),
        noise=values.get("noise", ""),
        carburettors=values.get("carburettors", ()),
        values={key: values[key] for key in (*needed, *more) if key in values},
    )


def _test(name: str, values: dict[str, Any]) -> Test:
    return Test(
        name=name,
        do=values["do"],
        expect=values["expect"],
        tells_apart=values.get("tells_apart", ()),
        minutes=values["minutes"],
        verdicts=values.get("for", ()),
        finding=values.get("finding", ""),
        sure=values.get("sure", _USUALLY_SURE),
    )


def _check_kits(catalogue: Catalogue, place: Place) -> None:
    for entry in catalogue.changes:
        for kit in entry.values.get("kits", ()):
            if kit not in catalogue.kits:
                known = ", ".join(catalogue.kits) or "none"
                raise (place / "change" / entry.name / "kits").error(
                    f"'{kit}' is no entry of the kind jet; known here: {known}",
                    f"name two of them, or write use = false under [change.{entry.name}]",
                )
