"""What of a machine can be dialled while one watches: sizes of the catalogue's changes, with any value between.

A dial moves one catalogue entry. Its value becomes rows for the sheet by the same code that the search uses, so a
dialled machine is one that the catalogue could have proposed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from pulsewright.bench.changes import changed_text
from pulsewright.bench.exhaust import CrossBolt, Disc, Insert, Pipe, Plate
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError, UsageError, did_you_mean
from pulsewright.physics.obstacle_losses import plate_blocked_fraction
from pulsewright.remedies.candidates import Machine, fully_up
from pulsewright.remedies.catalogue import CUTAWAY, END_PIECES, NEEDLE_CLIP, Catalogue, Entry
from pulsewright.remedies.change_rows import SHORTEST_PIPE, Option, last_pipe_place, options_of

LENGTH, ANGLE, SHARE, COUNT, WORD = "length", "angle", "share", "count", "word"
NOTHING_WIDE_OPEN = ", does nothing wide open"
AS_FITTED, NOTHING = "as fitted", "nothing"
END_PIECE = "end-piece"
JET_REACH = 0.40  # of the fitted size, to either side
REACH = {"needle_jet": 0.08, "cutaway": 1.0}  # the same of other parts: a needle jet stays wider than its needle
SAME = 1e-7  # apart less than this is the same
SQUARE = 90.0  # [deg] a plate across the flow


@dataclass(frozen=True, slots=True, kw_only=True)
class Dial:
    """One thing to turn: a length [m], an angle [deg], a share from 0 to 1, a count, or a word of `choices`."""

    name: str
    title: str
    kind: str  # LENGTH, ANGLE, SHARE, COUNT or WORD
    value: float | str  # as the machine is
    low: float = 0.0
    high: float = 0.0
    step: float = 0.0
    choices: tuple[float | str, ...] = ()  # only these; empty: anything from low to high
    part_of: str = ""  # the choice of the end piece that it belongs to


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialled:
    """A machine with its dials turned."""

    setup: Setup
    text: str  # TOML of its sheet
    options: tuple[Option, ...]

    @property
    def words(self) -> str:
        """What was turned, in a line; empty where nothing was."""
        return "; ".join(option.words for option in self.options)

    @property
    def rows(self) -> tuple[tuple[str, Any], ...]:
        """The changes, as `change` in a session takes them."""
        return tuple(row for option in self.options for row in option.rows)


def dials_of(setup: Setup, catalogue: Catalogue) -> list[Dial]:
    """The dials that fit a machine and that the catalogue of the workshop knows."""
    found = [*_pipe_dials(setup, catalogue), *_end_dials(setup, catalogue), *_jet_dials(setup, catalogue)]
    found += _clip_dials(setup, catalogue)
    if _entry(catalogue, "ignition"):
        found.append(
            Dial(name="ignition", title="ignition, earlier or later", kind=ANGLE, value=0.0, low=-10, high=10, step=1)
        )
    ducts = setup.intake.before_carburettor
    if _entry(catalogue, "stack") and ducts and not setup.intake.plenum:
        length = ducts[0].length
        found.append(_length("stack", "length in front of the carburettor", length, 0.02, length + 0.25, 0.005))
    return found


def dialled(machine: Machine, values: Mapping[str, float | str], catalogue: Catalogue) -> Dialled:
    """The machine with dials turned to values; what is left out stays as it is.

    Raises
    ------
    UsageError : there is no such dial on this machine, or it has no such value.
    InputError : the sheet cannot take it, such as a pipe shorter than to its sensor.
    """
    dials = {dial.name: dial for dial in dials_of(machine.setup, catalogue)}
    wanted = {name: _checked(dials, name, value) for name, value in values.items()}
    moved = {name: value for name, value in wanted.items() if not _same(dials[name].value, value)}
    state = Dialled(setup=machine.setup, text=machine.text, options=())
    for entry in _entries(dials, moved, wanted, machine.setup, catalogue):
        state = _turned(state, entry, machine.name, catalogue)
    return state


def _turned(state: Dialled, entry: Entry, name: str, catalogue: Catalogue) -> Dialled:
    options = options_of(entry, state.setup, catalogue)
    if not options:
        raise InputError(f"{entry.title}: this does not fit the machine as it is dialled", hint="turn something else")
    text = changed_text(state.text, options[0].rows)
    setup = setup_from_text(text, "the dialled sheet", name=name, lines=False)
    return Dialled(setup=setup, text=text, options=(*state.options, options[0]))


def _entries(
    dials: Mapping[str, Dial], moved: Mapping[str, Any], wanted: Mapping[str, Any], setup: Setup, catalogue: Catalogue
) -> Iterator[Entry]:
    """Catalogue entries with the dialled values, in an order in which each finds what it needs."""

    def of(kind: str, **values: Any) -> Entry:
        entry = _entry(catalogue, kind)
        assert entry is not None  # else it would have no dial
        return replace(entry, values={**entry.values, **values})

    piece = wanted.get(END_PIECE, AS_FITTED)
    fitted = fitted_piece(setup)
    other_piece = piece not in (AS_FITTED, fitted)
    if other_piece and fitted != NOTHING:
        yield of("take out", of=(fitted,))
    if "pipe-bore" in moved:
        yield of("pipe bore", by=(moved["pipe-bore"] - dials["pipe-bore"].value,))
    if "pipe-length" in moved:
        yield of("pipe length", by=(moved["pipe-length"] - dials["pipe-length"].value,))
    if moved.get("muffler", 0.0) > 0.0:
        yield of("muffler", body_lengths=(moved["muffler"],))
    yield from _end_entries(of, piece if piece != AS_FITTED else fitted, other_piece, dials, moved, wanted)
    for entry in catalogue.changes:
        if entry.kind in ("jet", CUTAWAY) and entry.name in moved:
            yield replace(entry, values={**entry.values, "sizes": (moved[entry.name],), "most": 1})
        if entry.kind == NEEDLE_CLIP and entry.name in moved:
            yield replace(entry, values={**entry.values, "by": (int(moved[entry.name] - dials[entry.name].value),)})
    if "ignition" in moved:
        yield of("ignition", by=(moved["ignition"],))
    if "stack" in moved:
        yield of("stack", by=(moved["stack"] - dials["stack"].value,))


def _end_entries(
    of: Any, piece: str, other: bool, dials: Mapping[str, Dial], moved: Mapping[str, Any], wanted: Mapping[str, Any]
) -> Iterator[Entry]:
    """What stands in the pipe end, where it or its size was turned."""

    def value(name: str) -> float:
        return wanted.get(name, dials[name].value)

    def turned(*names: str) -> bool:
        return other or any(name in moved for name in names)

    if piece == "cross-bolt" and turned("bolt-diameter"):
        yield of("cross-bolt", diameters=(value("bolt-diameter"),))
    if piece == "plate" and turned("plate-blocks"):
        yield of("plate", blocks=(value("plate-blocks"),))
    if piece == "plate" and "plate-angle" in dials:
        before = SQUARE if turned("plate-blocks") else dials["plate-angle"].value
        if not _same(value("plate-angle"), before):
            yield of("plate angle", angles=(value("plate-angle"),))
    if piece == "disc" and turned("disc-open"):
        yield of("disc", open=(value("disc-open"),))
    if piece == "insert" and turned("insert-length"):
        shares = of("insert").values["bore_shares"]
        yield of("insert", lengths=(value("insert-length"),), bore_shares=(shares[-1],))


def _pipe_dials(setup: Setup, catalogue: Catalogue) -> Iterator[Dial]:
    pipe = _last_pipe(setup)
    if pipe is None:
        return
    if _fits("pipe length", setup, catalogue, by=(0.01,)):
        low, where = max(SHORTEST_PIPE, 0.4 * pipe.length), last_pipe_place(setup)
        title = f"length of the pipe {where}" if where else "pipe length"
        yield _length("pipe-length", title, pipe.length, low, 1.8 * pipe.length, 0.005)
    if _fits("pipe bore", _without_end_pieces(setup), catalogue, by=(0.001,)):
        bore = pipe.bore_out
        yield _length("pipe-bore", "pipe bore", bore, 0.7 * bore, 1.4 * bore, 0.001)
    if _fits("muffler", _without_end_pieces(setup), catalogue):
        longest = min(0.6, pipe.length - SHORTEST_PIPE)
        yield _length("muffler", "muffler in place of as much pipe", 0.0, 0.0, longest, 0.05)


def _end_dials(setup: Setup, catalogue: Catalogue) -> Iterator[Dial]:
    """What stands in the pipe end, and how large it is."""
    bare = _without_end_pieces(setup)
    pieces = [kind for kind in END_PIECES if _fits(kind, bare, catalogue)]
    if not pieces:
        return
    fitted = fitted_piece(setup)
    yield Dial(
        name=END_PIECE, title="in the pipe end", kind=WORD, value=fitted,
        choices=tuple(dict.fromkeys((fitted, NOTHING, *pieces))),
    )  # fmt: skip
    there = {p.piece: p for route in setup.exhaust.route.values() for p in route}
    pipe = _last_pipe(setup)
    bore = pipe.bore_out if pipe else 0.04
    plate, bolt, disc, insert = (there.get(name) for name in ("plate", "cross-bolt", "disc", "insert"))
    if "cross-bolt" in pieces:
        value = bolt.diameter if isinstance(bolt, CrossBolt) else 0.008
        yield replace(_length("bolt-diameter", "bolt", value, 0.004, 0.020, 0.001), part_of="cross-bolt")
    if "plate" in pieces:
        share = plate_blocked_fraction(plate.width / bore, SQUARE) if isinstance(plate, Plate) else 0.25
        angle = plate.angle_deg if isinstance(plate, Plate) else SQUARE
        yield Dial(name="plate-blocks", title="plate, share of the bore square across", kind=SHARE,
                   value=round(float(share), 4), low=0.05, high=0.70, step=0.01, part_of="plate")  # fmt: skip
        yield Dial(name="plate-angle", title="plate angle to the flow", kind=ANGLE, value=angle, low=0.0, high=90.0,
                   step=5.0, part_of="plate")  # fmt: skip
    if "disc" in pieces:
        share = disc.open_area_fraction if isinstance(disc, Disc) else 0.65
        yield Dial(name="disc-open", title="disc, share left open", kind=SHARE, value=share, low=0.20, high=0.95,
                   step=0.01, part_of="disc")  # fmt: skip
    if "insert" in pieces:
        value = insert.length if isinstance(insert, Insert) else 0.20
        yield replace(_length("insert-length", "insert", value, 0.05, 0.50, 0.01), part_of="insert")


def _jet_dials(setup: Setup, catalogue: Catalogue) -> Iterator[Dial]:
    """Everything of a carburettor that comes in sizes."""
    part = setup.carburettors[0]
    for entry in catalogue.changes:
        if entry.kind not in ("jet", CUTAWAY) or not options_of(entry, setup, catalogue):
            continue
        key = entry.values.get("of", CUTAWAY)
        fitted, reach = getattr(part, key), REACH.get(key, JET_REACH)
        near = [s for s in entry.values["sizes"] if abs(s / fitted - 1.0) <= reach]
        if key == "needle_jet" and part.needle:
            near = [s for s in near if s > part.needle.diameter + SAME]
        if near:
            sizes = sorted({*(round(s, 6) for s in near), round(fitted, 6)})
            title = entry.title + (NOTHING_WIDE_OPEN if key == CUTAWAY and fully_up(setup) else "")
            yield Dial(name=entry.name, title=title, kind=LENGTH, value=round(fitted, 6), low=sizes[0],
                       high=sizes[-1], choices=tuple(sizes))  # fmt: skip


def _clip_dials(setup: Setup, catalogue: Catalogue) -> Iterator[Dial]:
    for entry in catalogue.changes:
        needle = setup.carburettors[0].needle
        if entry.kind == NEEDLE_CLIP and needle and options_of(entry, setup, catalogue):
            grooves = tuple(range(1, max(entry.values.get("grooves", 5), needle.clip) + 1))
            yield Dial(name=entry.name, title=f"{entry.title}, groove from the blunt end", kind=COUNT,
                       value=needle.clip, low=1, high=grooves[-1], choices=grooves)  # fmt: skip


def _length(name: str, title: str, value: float, low: float, high: float, step: float) -> Dial:
    """A dial whose steps pass through the value that the machine has."""
    down, up = int((value - low) / step + 1e-9), int((high - value) / step + 1e-9)
    return Dial(
        name=name, title=title, kind=LENGTH, value=round(value, 6), low=round(value - down * step, 6),
        high=round(value + up * step, 6), step=step,
    )  # fmt: skip


def _checked(dials: Mapping[str, Dial], name: str, value: float | str) -> float | str:
    if name not in dials:
        raise UsageError(f"this machine has no dial '{name}'", hint=did_you_mean(name, dials))
    dial = dials[name]
    if dial.kind == WORD:
        if value not in (*dial.choices, AS_FITTED):
            raise UsageError(
                f"'{value}' is no choice of {dial.title}", hint=did_you_mean(str(value), map(str, dial.choices))
            )
        return value
    if isinstance(value, str) or not dial.low - 1e-9 <= value <= dial.high + 1e-9:
        raise UsageError(f"{dial.title} cannot be {value}", hint=f"{dial.low:g} to {dial.high:g}")
    if dial.choices:
        return min(dial.choices, key=lambda size: abs(float(size) - value))
    return value


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return one == other or other == AS_FITTED
    return abs(one - other) < SAME


def _entry(catalogue: Catalogue, kind: str) -> Entry | None:
    return next((e for e in catalogue.changes if e.kind == kind), None)


def _fits(kind: str, setup: Setup, catalogue: Catalogue, **values: Any) -> bool:
    entry = _entry(catalogue, kind)
    return entry is not None and bool(options_of(replace(entry, values={**entry.values, **values}), setup, catalogue))


def _last_pipe(setup: Setup) -> Pipe | None:
    """The plain pipe that an outlet ends with, of the first outlet."""
    outlets = [r for r in (*setup.exhaust.route.values(), *setup.exhaust.after.values()) if r[-1].piece == "end"]
    pipes = [p for p in outlets[0] if isinstance(p, Pipe)] if outlets else []
    return pipes[-1] if pipes else None


def fitted_piece(setup: Setup) -> str:
    """What stands in the pipe end, by its word on the sheet."""
    there = {p.piece for route in (*setup.exhaust.route.values(), *setup.exhaust.after.values()) for p in route}
    return next((kind for kind in END_PIECES if kind in there), NOTHING)


def _without_end_pieces(setup: Setup) -> Setup:
    def bare(routes: Mapping[Any, Any]) -> dict[Any, Any]:
        return {key: tuple(p for p in route if p.piece not in END_PIECES) for key, route in routes.items()}

    exhaust = replace(setup.exhaust, route=bare(setup.exhaust.route), after=bare(setup.exhaust.after))
    return replace(setup, exhaust=exhaust)
