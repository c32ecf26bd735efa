"""A catalogue entry as rows for one very sheet: every option of it that fits the machine, with its words.

The rows are those of `--set` and of `change` in a session. What does not fit (a plate in a muffler's end, a
collector for a single) gives no option.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from pulsewright.bench.carburettor import HoleRow
from pulsewright.bench.exhaust import (
    CrossBolt,
    Crossover,
    Disc,
    End,
    Insert,
    Join,
    Muffler,
    Piece,
    Pipe,
    Plate,
)
from pulsewright.bench.fill_exhaust import CHAMBERS, OPEN_AREA
from pulsewright.bench.intake import Duct
from pulsewright.bench.route import route_length
from pulsewright.bench.setup import Setup
from pulsewright.physics.obstacle_losses import plate_blocked_fraction, rod_blocked_fraction
from pulsewright.remedies.catalogue import EMULSION_TUBE, PUMP, Catalogue, Entry
from pulsewright.remedies.piece_tables import mm, piece_tables

Rows = tuple[tuple[str, Any], ...]
Route = tuple[Piece, ...]
SHORTEST_PIPE = 0.15  # [m] of what is left when something is cut off
SAME_SIZE = 2e-3  # relative; a jet of the kit that is the fitted one
COLLECTOR = "collector 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to do an entry on this machine."""

    entry: Entry
    words: str  # "plate that blocks 25 % of the bore, 40 mm before the end"
    rows: Rows


def options_of(entry: Entry, setup: Setup, catalogue: Catalogue) -> list[Option]:
    """Every option of an entry that fits the machine of `setup`."""
    if entry.carburettors and any(c.kind not in entry.carburettors for c in setup.carburettors):
        return []
    make = _MAKERS[entry.kind]
    return [Option(entry=entry, words=words, rows=rows) for words, rows in make(entry, setup, catalogue) if rows]


def _jet(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    yield from _sized(entry, setup, entry.values["of"])


def _cutaway(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    yield from _sized(entry, setup, "cutaway")


def _sized(entry: Entry, setup: Setup, key: str) -> Iterator[tuple[str, Rows]]:
    most, fitted = entry.values.get("most", 3), getattr(setup.carburettors[0], key)
    if not all(getattr(c, key) > 0.0 for c in setup.carburettors):
        return
    down, up = _steps(entry.values["sizes"], fitted)
    for size in [*reversed(down[:most]), *up[:most]]:
        yield f"{entry.title} {mm(fitted)} to {mm(size)}", _to_size(setup, key, size / fitted)


def _steps(sizes: tuple[float, ...], fitted: float) -> tuple[list[float], list[float]]:
    """Sizes below the fitted one and above it, nearest first."""
    down = [s for s in reversed(sizes) if s < fitted * (1.0 - SAME_SIZE)]
    return down, [s for s in sizes if s > fitted * (1.0 + SAME_SIZE)]


def _to_size(setup: Setup, key: str, factor: float) -> Rows:
    """The same step in every carburettor."""
    rows: list[tuple[str, Any]] = []
    for number, carburettor in enumerate(setup.carburettors, 1):
        size = round(getattr(carburettor, key) * factor, 6)
        rows.append((f"carburettor.{number}.{key}", mm(size)))
        rows += _needle_stays(setup, number, key)
    return tuple(rows)


def _needle_stays(setup: Setup, number: int, key: str) -> Iterator[tuple[str, Any]]:
    """Row that holds a needle which the sheet left out, and which would now be filled in from its new jet."""
    needle = setup.carburettors[number - 1].needle
    path = f"carburettor.{number}.needle_diameter"
    if key == "needle_jet" and needle and any(each.key == path for each in setup.assumptions):
        yield path, mm(needle.diameter)


def _needle_clip(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    needles = [c.needle for c in setup.carburettors if c.needle]
    if len(needles) < len(setup.carburettors):
        return
    grooves = entry.values.get("grooves", 5)
    for by in entry.values["by"]:
        clips = [needle.clip + by for needle in needles]
        if by and all(1 <= clip <= grooves for clip in clips):
            count = "one groove" if abs(by) == 1 else f"{abs(by)} grooves"
            words = f"needle {'up' if by > 0 else 'down'} {count}, clip {needles[0].clip} to {clips[0]}"
            yield words, tuple((f"carburettor.{n}.needle_clip", clip) for n, clip in enumerate(clips, 1))


def _emulsion_tube(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    """Tubes with holes higher or lower, or wider or narrower ones, in every carburettor alike."""
    if not all(c.emulsion_tube for c in setup.carburettors):
        return
    for by in entry.values.get("shift", ()):
        tubes = [[replace(row, below=row.below + by) for row in c.emulsion_tube] for c in setup.carburettors]
        if by and all(row.below >= 0.0 for tube in tubes for row in tube):
            yield f"{entry.title} with its holes {mm(abs(by))} {'lower' if by > 0.0 else 'higher'}", _tube_rows(tubes)
    for share in entry.values.get("bores", ()):
        tubes = [[replace(row, bore=round(share * row.bore, 5)) for row in c.emulsion_tube] for c in setup.carburettors]
        old, new = setup.carburettors[0].emulsion_tube[0].bore, tubes[0][0].bore
        yield f"{entry.title} with holes of {mm(new)} for {mm(old)}", _tube_rows(tubes)


def _tube_rows(tubes: list[list[HoleRow]]) -> Rows:
    return tuple(
        (
            f"carburettor.{number}.emulsion_tube",
            [{"below": mm(row.below), "holes": row.holes, "bore": mm(row.bore)} for row in tube],
        )
        for number, tube in enumerate(tubes, 1)
    )


def _pump(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    """Another stroke of every accelerator pump."""
    fitted = [(n, c.pump_volume) for n, c in enumerate(setup.carburettors, 1) if c.pump_volume > 0.0]
    for by in entry.values["by"]:
        rows = tuple((f"carburettor.{n}.pump_volume", f"{1e6 * (1.0 + by) * volume:.3g} cm^3") for n, volume in fitted)
        if rows and by:
            volume = fitted[0][1]
            yield f"{entry.title} {1e6 * volume:.3g} cm³ to {1e6 * (1.0 + by) * volume:.3g} cm³", rows


def _jets_in_step(entry: Entry, setup: Setup, catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    kits = [catalogue.change(name) for name in entry.values["kits"]]
    for steps in entry.values["steps"]:
        words, rows = [], []
        for kit in kits:
            key = kit.values["of"] if kit else ""
            fitted = getattr(setup.carburettors[0], key) if kit else 0.0
            down, up = _steps(kit.values["sizes"], fitted) if kit and fitted > 0.0 else ([], [])
            reach = down if steps < 0 else up
            if kit is None or not steps or len(reach) < abs(steps):
                break
            size = reach[abs(steps) - 1]
            words.append(f"{kit.title} {mm(fitted)} to {mm(size)}")
            rows += _to_size(setup, key, size / fitted)
        else:
            yield ", ".join(words), tuple(rows)


def _plate(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    before = entry.values.get("from_end", 0.04)
    for share in entry.values["blocks"]:

        def fitted(pipe: Pipe, share: float = share) -> list[Piece]:
            width = pipe.bore_out * _width_for(share)
            return [Plate(width=round(width, 4), angle_deg=90.0, from_end=min(before, 0.5 * pipe.length))]

        words = f"plate that blocks {100.0 * share:.0f} % of the bore, {mm(before)} before the pipe end"
        yield words, _end_rows(setup, fitted)


def _width_for(share: float) -> float:
    """Width over bore of a square plate that blocks a share of the bore."""
    from scipy.optimize import brentq

    return float(brentq(lambda ratio: plate_blocked_fraction(ratio, 90.0) - share, 0.0, 1.0))  # type: ignore[arg-type]


def _plate_angle(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    for angle in entry.values["angles"]:

        def turned(route: Route, angle: float = angle) -> Route | None:
            if not any(isinstance(p, Plate) and p.angle_deg != angle for p in route):
                return None
            return tuple(replace(p, angle_deg=angle) if isinstance(p, Plate) else p for p in route)

        yield f"plate turned to {angle:g}° to the flow", _outlet_rows(setup, turned)


def _cross_bolt(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    before = entry.values.get("from_end", 0.05)
    for diameter in entry.values["diameters"]:

        def fitted(pipe: Pipe, diameter: float = diameter) -> list[Piece]:
            fits = rod_blocked_fraction(diameter / pipe.bore_out) < 0.8
            return [CrossBolt(diameter=diameter, from_end=min(before, 0.5 * pipe.length))] if fits else []

        yield f"{mm(diameter)} bolt across the pipe, {mm(before)} before its end", _end_rows(setup, fitted)


def _disc(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    for share in entry.values["open"]:
        rows = _end_rows(setup, lambda _pipe, share=share: [Disc(open_area_fraction=share)])
        yield f"disc on the pipe end, {100.0 * share:.0f} % open", rows


def _insert(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    packed = entry.values.get("packed", False)
    for length in entry.values["lengths"]:
        for share in entry.values["bore_shares"]:

            def fitted(pipe: Pipe, length: float = length, share: float = share) -> list[Piece]:
                fits = length < pipe.length
                return [Insert(length=length, bore=round(share * pipe.bore_out, 4), packed=packed)] if fits else []

            words = f"{'packed ' if packed else ''}insert, {mm(length)} long, {100.0 * share:.0f} % of the bore"
            yield words, _end_rows(setup, fitted)


def _take_out(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    for word in entry.values["of"]:

        def without(route: Route, word: str = word) -> Route | None:
            left = tuple(p for p in route if p.piece != word)
            return left if len(left) < len(route) else None

        yield f"{word} taken out", _outlet_rows(setup, without)


def _pipe_length(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    for by in entry.values["by"]:
        words = f"{_last_pipe_words(setup)} {mm(abs(by))} {'longer' if by > 0.0 else 'shorter'}"
        yield words, _last_pipe_rows(setup, lambda pipe, by=by: [_longer(pipe, by)])


def _last_pipe_words(setup: Setup) -> str:
    where = last_pipe_place(setup)
    return f"pipe {where}" if where else "pipes"


def last_pipe_place(setup: Setup) -> str:
    """Which pipe it is that ends at the outlet, where it is not the whole pipe: "behind the muffler", for one."""
    exhaust = setup.exhaust
    outlets = [r for r in (*exhaust.route.values(), *exhaust.after.values()) if r[-1].piece == "end"]
    pieces = [p.piece for p in outlets[0] if isinstance(p, Pipe | Muffler)] if outlets else []
    if "muffler" in pieces[:-1]:
        return "behind the muffler"
    if exhaust.after:
        return "behind the collector"
    return "at the end" if len(pieces) > 1 else ""


def _longer(pipe: Pipe, by: float) -> Pipe:
    return replace(pipe, length=round(pipe.length + by, 4))


def _pipe_bore(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    for by in entry.values["by"]:

        def wider(route: Route, by: float = by) -> Route | None:
            if not all(isinstance(p, Pipe | End | Join) for p in route):
                return None
            pieces = [
                replace(p, bore_in=round(p.bore_in + by, 4), bore_out=round(p.bore_out + by, 4))
                if isinstance(p, Pipe)
                else p
                for p in route
            ]
            return tuple(pieces)

        bores = {p.bore_out for route in setup.exhaust.route.values() for p in route if isinstance(p, Pipe)}
        if len(bores) == 1 and not setup.exhaust.after:
            bore = bores.pop()
            yield f"pipe bore {mm(bore)} to {mm(bore + by)}", _outlet_rows(setup, wider)


def _cone(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    for length in entry.values["lengths"]:
        for ratio in entry.values["opens_to"]:

            def coned(pipe: Pipe, length: float = length, ratio: float = ratio) -> list[Piece]:
                cone = Pipe(length=length, bore_in=pipe.bore_out, bore_out=round(ratio * pipe.bore_out, 4))
                return [_longer(pipe, -length), replace(cone, wall=pipe.wall)]

            word = "opening" if ratio > 1.0 else "closing"
            yield f"last {mm(length)} a cone {word} to {ratio:g} times the bore", _last_pipe_rows(setup, coned)


def _muffler(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    core = entry.values.get("core", "perforated packed")
    for length in entry.values["body_lengths"]:

        def muffled(pipe: Pipe, length: float = length) -> list[Piece]:
            muffler = Muffler(
                body_length=length,
                body_bore=round(entry.values.get("body_ratio", 2.2) * pipe.bore_out, 4),
                core_bore=round(entry.values.get("core_ratio", 1.0) * pipe.bore_out, 4),
                core=core, chambers=CHAMBERS[core], open_area_fraction=OPEN_AREA[core],
            )  # fmt: skip
            return [_longer(pipe, -length), muffler]

        yield f"{core} muffler, {mm(length)} long, in place of as much pipe", _last_pipe_rows(setup, muffled)


def _repack(_entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    def repacked(route: Route) -> Route | None:
        new = tuple(replace(p, packing="new") if isinstance(p, Muffler) else p for p in route)
        return new if new != route else None

    yield "mufflers packed anew", _outlet_rows(setup, repacked)


def _collector(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    routes = setup.exhaust.route
    plain = all(len(r) >= 2 and isinstance(r[-2], Pipe) and isinstance(r[-1], End) for r in routes.values())
    if len(routes) < 2 or setup.exhaust.after or not plain or any(_has(r, Crossover) for r in routes.values()):
        return
    pipe = next(p for p in reversed(routes[min(routes)]) if isinstance(p, Pipe))
    bore = round(entry.values.get("bore_ratio", 1.2) * pipe.bore_out, 4)
    for length in entry.values["lengths"]:
        after: Route = (Pipe(length=length, bore_in=bore, bore_out=bore, wall=pipe.wall), End(kind="open"))
        rows: list[tuple[str, Any]] = [(f"exhaust.after.{COLLECTOR}", piece_tables(after))]
        rows += [
            (f"exhaust.route.{number}", piece_tables((*route[:-1], Join(into=COLLECTOR))))
            for number, route in routes.items()
        ]
        yield f"all pipes into one of {mm(length)} × {mm(bore)}", tuple(rows)


def _crossover(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    routes = setup.exhaust.route
    if len(routes) != 2 or setup.exhaust.after or any(_has(r, Crossover) for r in routes.values()):
        return
    first, other = routes
    lengths = [route_length(route) for route in routes.values()]
    pipe = next((p for p in routes[first] if isinstance(p, Pipe)), None)
    if pipe is None:
        return
    for share in entry.values["at_shares"]:
        tube = Crossover(
            to=other, at=round(share * min(lengths), 3), length=entry.values.get("length", 0.12),
            bore=round(entry.values.get("bore_ratio", 0.8) * min(pipe.bore_in, pipe.bore_out), 4),
        )  # fmt: skip
        route = (*routes[first][:-1], tube, routes[first][-1])
        words = f"tube of {mm(tube.bore)} between the pipes, {mm(tube.at)} from the flanges"
        yield words, ((f"exhaust.route.{first}", piece_tables(route)),)


def _ignition(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    for by in entry.values["by"]:
        rows = [[rpm, round(angle + by, 3)] for rpm, angle in setup.ignition.advance]
        yield f"ignition {abs(by):g}° {'earlier' if by > 0.0 else 'later'}", (("ignition.advance", rows),)


def _stack(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    ducts = setup.intake.before_carburettor
    if not ducts or setup.intake.plenum:
        return
    for by in entry.values["by"]:
        if ducts[0].length + by < 0.01:
            continue
        longer = (replace(ducts[0], length=round(ducts[0].length + by, 4)), *ducts[1:])
        words = f"intake {mm(abs(by))} {'longer' if by > 0.0 else 'shorter'} in front of the carburettor"
        yield words, (("intake.before_carburettor", [_duct_table(d) for d in longer]),)


def _duct_table(duct: Duct) -> dict[str, str]:
    return {"length": mm(duct.length), "bore_in": mm(duct.bore_in), "bore_out": mm(duct.bore_out)}


def _filter(entry: Entry, setup: Setup, _catalogue: Catalogue) -> Iterator[tuple[str, Rows]]:
    has, wanted = setup.intake.mouth.kind == "filter", entry.values["fitted"]
    if has and not wanted and _loss_can_go(setup):
        yield "air filter off", (("intake", _intake_without_filter(setup)),)
    if not has and wanted:
        loss = entry.values.get("loss", 1.5)
        yield f"air filter of {loss:g} dynamic heads", (("intake.mouth", "filter"), ("intake.loss", loss))


def _loss_can_go(setup: Setup) -> bool:
    return bool(setup.intake.before_carburettor)


def _intake_without_filter(setup: Setup) -> dict[str, Any]:
    """The whole intake with an open mouth: a filter's loss may not stay on the sheet."""
    intake = setup.intake
    table: dict[str, Any] = {"mouth": "open"}
    if intake.plenum:
        table["plenum"] = f"{intake.plenum * 1e6:g} cm^3"
    table["before_carburettor"] = [_duct_table(d) for d in intake.before_carburettor]
    table["after_carburettor"] = [_duct_table(d) for d in intake.after_carburettor]
    table["branch"] = {str(n): [_duct_table(d) for d in ducts] for n, ducts in intake.branch.items()}
    return table


def _has(route: Route, kind: type) -> bool:
    return any(isinstance(piece, kind) for piece in route)


def _outlets(setup: Setup) -> list[tuple[str, Route]]:
    """Path and pieces of every route that ends in the open."""
    routes = [(f"exhaust.route.{n}", r) for n, r in setup.exhaust.route.items()]
    routes += [(f"exhaust.after.{name}", r) for name, r in setup.exhaust.after.items()]
    return [(path, route) for path, route in routes if isinstance(route[-1], End)]


def _outlet_rows(setup: Setup, change: Callable[[Route], Route | None]) -> Rows:
    """Rows that change every outlet alike; none where one of them cannot be changed so."""
    rows = []
    for path, route in _outlets(setup):
        changed = change(route)
        if changed is None:
            return ()
        rows.append((path, piece_tables(changed)))
    return tuple(rows)


def _end_rows(setup: Setup, parts: Callable[[Pipe], list[Piece]]) -> Rows:
    """Rows that put parts into every plain pipe end, in place of what end pieces are there."""

    def fitted(route: Route) -> Route | None:
        bare = tuple(p for p in route if not isinstance(p, Plate | CrossBolt | Disc | Insert))
        body, end = bare[:-1], bare[-1]
        new = parts(body[-1]) if body and isinstance(body[-1], Pipe) else []
        changed = (*body, *new, end)
        return changed if new and changed != route else None

    return _outlet_rows(setup, fitted)


def _last_pipe_rows(setup: Setup, parts: Callable[[Pipe], list[Piece]]) -> Rows:
    """Rows that put other pieces in place of every last plain pipe; end pieces behind it stay."""

    def changed(route: Route) -> Route | None:
        bodies = [k for k, p in enumerate(route) if isinstance(p, Pipe | Muffler)]
        if not bodies or not isinstance(route[bodies[-1]], Pipe):
            return None
        pipe = route[bodies[-1]]
        assert isinstance(pipe, Pipe)
        new = list(parts(pipe))
        straight = not isinstance(new[-1], Pipe) or len(new) == 1 or len(route) == bodies[-1] + 2
        whole = all(not isinstance(p, Pipe) or math.isclose(p.length, 0.0) or p.length > 0.0 for p in new)
        if not straight or not whole or (isinstance(new[0], Pipe) and new[0].length < SHORTEST_PIPE):
            return None
        return (*route[: bodies[-1]], *new, *route[bodies[-1] + 1 :])

    return _outlet_rows(setup, changed)


Maker = Callable[[Entry, Setup, Catalogue], Iterator[tuple[str, Rows]]]
_MAKERS: dict[str, Maker] = {
    "jet": _jet,
    "jets in step": _jets_in_step,
    "needle clip": _needle_clip,
    "cutaway": _cutaway,
    EMULSION_TUBE: _emulsion_tube,
    PUMP: _pump,
    "plate": _plate,
    "plate angle": _plate_angle,
    "cross-bolt": _cross_bolt,
    "disc": _disc,
    "insert": _insert,
    "take out": _take_out,
    "pipe length": _pipe_length,
    "pipe bore": _pipe_bore,
    "cone": _cone,
    "muffler": _muffler,
    "repack": _repack,
    "collector": _collector,
    "crossover": _crossover,
    "ignition": _ignition,
    "stack": _stack,
    "filter": _filter,
}
