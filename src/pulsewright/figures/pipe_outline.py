"""The route cut open along its axis, as plain shapes in millimetres: one drawing for paper, svg and canvas.

Along the first axis runs the distance from the valve, across it the distance from the centre line, both in
millimetres and both to the same scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from pulsewright.simulate.echo_field import OutlinePart

Role = Literal["gas", "wall", "core", "solid", "packing"]
Points = tuple[tuple[float, float], ...]

STRETCHES = ("port", "pipe", "muffler")
PLATE_THICKNESS = 3.0  # [mm] drawn, not measured: a plate seen edge-on would vanish
STUB = 0.8  # how far the stub of a joining pipe is drawn, in its own bores


@dataclass(frozen=True, slots=True)
class Shape:
    """A closed area ("gas", "solid", "packing") or an open line ("wall", "core")."""

    role: Role
    points: Points  # [mm], [mm]


def outline_shapes(outline: Iterable[OutlinePart]) -> list[Shape]:
    """All shapes of a route, what lies behind first."""
    parts = list(outline)
    shapes = [shape for part in parts for shape in _shapes_of(part)]
    shapes += _steps([part for part in parts if _is_stretch(part)])
    order = {"packing": 0, "gas": 1, "core": 2, "wall": 3, "solid": 4}
    return sorted(shapes, key=lambda shape: order[shape.role])


def widest(outline: Iterable[OutlinePart]) -> float:
    """Largest bore or body anywhere on the route. [mm]"""
    return max((1e3 * max(p.bore_start, p.bore_end) for p in outline if _is_stretch(p)), default=40.0)


def route_length(outline: Iterable[OutlinePart]) -> float:
    """From the valve to the far end of the last part. [mm]"""
    return max((1e3 * part.end for part in outline), default=0.0)


def labels(outline: Iterable[OutlinePart]) -> list[tuple[float, str]]:
    """Where to write what: the middle of each part [mm], and its name."""
    return [(500.0 * (part.start + part.end), _name(part)) for part in outline]


def _name(part: OutlinePart) -> str:
    if part.kind == "end" and "end" not in part.label:
        return f"{part.label} end".strip()
    return part.label or part.kind


def _is_stretch(part: OutlinePart) -> bool:
    return part.kind in STRETCHES or (part.kind not in _DRAWN and part.end > part.start)


def _shapes_of(part: OutlinePart) -> list[Shape]:
    draw = _DRAWN.get(part.kind, _tube if part.end > part.start else _nothing)
    return draw(part)


def _box(x0: float, x1: float, y0: float, y1: float) -> Points:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def _mm(part: OutlinePart) -> tuple[float, float, float, float]:
    """Start, end, and the two radii. [mm]"""
    return 1e3 * part.start, 1e3 * part.end, 500.0 * part.bore_start, 500.0 * part.bore_end


def _tube(part: OutlinePart) -> list[Shape]:
    x0, x1, r0, r1 = _mm(part)
    return [
        Shape("gas", ((x0, r0), (x1, r1), (x1, -r1), (x0, -r0))),
        Shape("wall", ((x0, r0), (x1, r1))),
        Shape("wall", ((x0, -r0), (x1, -r1))),
    ]


def _muffler(part: OutlinePart) -> list[Shape]:
    x0, x1, body, core = _mm(part)
    core = min(core, body)
    walls = [Shape("wall", ((x0, s * core), (x0, s * body), (x1, s * body), (x1, s * core))) for s in (1.0, -1.0)]
    perforated = [Shape("core", ((x0, s * core), (x1, s * core))) for s in (1.0, -1.0)]
    gas = Shape("gas", _box(x0, x1, -core, core))
    rings = [Shape("packing", _box(x0, x1, s * core, s * body)) for s in (1.0, -1.0)]
    return [*rings, gas, *walls, *perforated]


def _insert(part: OutlinePart) -> list[Shape]:
    x0, x1, tube, bore = _mm(part)
    rings = [Shape("packing", _box(x0, x1, s * bore, s * tube)) for s in (1.0, -1.0)]
    faces = [Shape("wall", ((x0, s * tube), (x0, s * bore), (x1, s * bore))) for s in (1.0, -1.0)]
    return rings + faces


def _bolt(part: OutlinePart) -> list[Shape]:
    """Seen along the bolt: a circle of its own diameter on the centre line."""
    x, _, _, radius = _mm(part)
    turns = [2.0 * math.pi * k / 24 for k in range(24)]
    return [Shape("solid", tuple((x + radius * math.cos(t), radius * math.sin(t)) for t in turns))]


def _plate(part: OutlinePart) -> list[Shape]:
    x, _, _, half = _mm(part)
    return [Shape("solid", _box(x - PLATE_THICKNESS / 2, x + PLATE_THICKNESS / 2, -half, half))]


def _disc(part: OutlinePart) -> list[Shape]:
    """A washer on the wall: what it blocks is shared between top and bottom."""
    x, _, tube, blocked = _mm(part)
    x0, x1 = x - PLATE_THICKNESS / 2, x + PLATE_THICKNESS / 2
    return [Shape("solid", _box(x0, x1, s * (tube - blocked), s * tube)) for s in (1.0, -1.0)]


def _butterfly(part: OutlinePart) -> list[Shape]:
    """A leaf of the tube's width, turned until it blocks what the part says."""
    x, _, tube, blocked = _mm(part)
    reach = math.sqrt(max(tube**2 - blocked**2, 0.0))
    t = PLATE_THICKNESS / 2
    return [
        Shape(
            "solid",
            (
                (x - reach - t, -blocked),
                (x - reach + t, -blocked),
                (x + reach + t, blocked),
                (x + reach - t, blocked),
            ),
        )
    ]


def _stub(part: OutlinePart) -> list[Shape]:
    """The other pipe of a join or crossover, cut off a short way up."""
    x, _, tube, other = _mm(part)
    top = tube + STUB * 2.0 * other
    return [Shape("wall", ((x + s * other, tube), (x + s * other, top))) for s in (-1.0, 1.0)]


def _nothing(part: OutlinePart) -> list[Shape]:
    return []


def _end(part: OutlinePart) -> list[Shape]:
    x, _, mouth, _ = _mm(part)
    if "flanged" not in part.label:
        return []
    return [Shape("wall", ((x, s * mouth), (x, s * 1.8 * mouth))) for s in (1.0, -1.0)]


_DRAWN: dict[str, Callable[[OutlinePart], list[Shape]]] = {
    "muffler": _muffler,
    "insert": _insert,
    "cross-bolt": _bolt,
    "plate": _plate,
    "disc": _disc,
    "valve": _butterfly,
    "join": _stub,
    "crossover": _stub,
    "end": _end,
}


def _mouths(part: OutlinePart) -> tuple[float, float]:
    """Radii at which a stretch meets its neighbours: a muffler meets them with its core. [mm]"""
    _, _, r0, r1 = _mm(part)
    return (r1, r1) if part.kind == "muffler" else (r0, r1)


def _steps(stretches: list[OutlinePart]) -> list[Shape]:
    """The ring of wall where one stretch ends wider or narrower than the next begins."""
    rings = []
    for near, far in pairwise(stretches):
        r0, r1 = _mouths(near)[1], _mouths(far)[0]
        if abs(r0 - r1) > 0.05:
            x = 1e3 * far.start
            rings += [Shape("wall", ((x, s * r0), (x, s * r1))) for s in (1.0, -1.0)]
    return rings
