"""The route of one cylinder as a person would see it cut open, for the echo picture."""

from __future__ import annotations

import math

from pulsewright.bench.exhaust import (
    CrossBolt,
    Crossover,
    Disc,
    End,
    ExhaustValve,
    Insert,
    Join,
    Muffler,
    Piece,
    Pipe,
    Plate,
)
from pulsewright.bench.setup import Setup
from pulsewright.simulate.echo_field import OutlinePart
from pulsewright.units import show


def outline_of(setup: Setup, cylinder: int, rpm: float, cut_at: float | None = None) -> tuple[OutlinePart, ...]:
    """Parts of a cylinder's route from the valve outwards.

    rpm : sets the angle of a butterfly. cut_at : place [m] where a non-reflecting end cuts the route off.
    """
    port = setup.engine.exhaust_port
    walk = _Walk(place=port.length, bore=port.bore, rpm=rpm)
    walk.parts.append(_part("port", 0.0, port.length, port.bore, port.bore))
    pieces = setup.exhaust.route[cylinder]
    while pieces:
        pieces = walk.along(pieces, setup)
    walk.parts += _crossovers(setup, cylinder, walk)
    parts = sorted(walk.parts, key=lambda part: (part.start, part.end))
    return tuple(parts if cut_at is None else _cut(parts, cut_at))


class _Walk:
    """Where the route has come to."""

    def __init__(self, place: float, bore: float, rpm: float) -> None:
        self.place, self.bore, self.rpm = place, bore, rpm
        self.parts: list[OutlinePart] = []

    def along(self, pieces: tuple[Piece, ...], setup: Setup) -> tuple[Piece, ...]:
        """Add the parts of some pieces; returns the pieces behind a collector."""
        for piece in pieces:
            if isinstance(piece, Join):
                after = setup.exhaust.after[piece.into]
                self._mark("join", self.place, self.bore, _first_bore(after, self.bore), piece.into)
                return after
            self._piece(piece)
        return ()

    def _piece(self, piece: Piece) -> None:
        bore, place = self.bore, self.place
        match piece:
            case Pipe():
                self._stretch("pipe", piece.length, piece.bore_in, piece.bore_out)
                self.bore = piece.bore_out
            case Muffler():
                label = f"{piece.core} muffler"
                self._stretch("muffler", piece.body_length, piece.body_bore, piece.core_bore, label)
                self.bore = piece.core_bore
            case Insert():
                label = "packed insert" if piece.packed else "insert"
                start = max(place - piece.length, 0.0)
                self.parts.append(_part("insert", start, place, bore, piece.bore, label))
                self.bore = piece.bore
            case CrossBolt():
                self._mark("cross-bolt", place - piece.from_end, bore, piece.diameter, _bolt(piece))
            case Plate():
                blocked = piece.width * math.sin(math.radians(piece.angle_deg))
                self._mark("plate", place - piece.from_end, bore, blocked, f"plate {piece.angle_deg:.0f}°")
            case Disc():
                blocked = bore * (1.0 - math.sqrt(piece.open_area_fraction))
                self._mark("disc", place, bore, blocked, "disc")
            case ExhaustValve():
                self._butterfly(piece)
            case End():
                self._mark("end", place, bore, bore, piece.kind)
            case _:
                pass

    def _butterfly(self, piece: ExhaustValve) -> None:
        import numpy as np

        rows = piece.angle_by_rpm
        angle = float(np.interp(self.rpm, [r[0] for r in rows], [r[1] for r in rows]))
        blocked = piece.bore * math.sin(math.radians(angle))
        self._mark("valve", self.place, self.bore, blocked, f"butterfly {angle:.0f}°")

    def _stretch(self, kind: str, length: float, start: float, end: float, label: str = "") -> None:
        self.parts.append(_part(kind, self.place, self.place + length, start, end, label))
        self.place += length

    def _mark(self, kind: str, place: float, bore: float, other: float, label: str) -> None:
        self.parts.append(_part(kind, place, place, bore, other, label))


def _part(kind: str, start: float, end: float, bore: float, other: float, label: str = "") -> OutlinePart:
    return OutlinePart(kind=kind, start=start, end=end, bore_start=bore, bore_end=other, label=label)


def _bolt(piece: CrossBolt) -> str:
    return f"bolt {show(piece.diameter, 'length')}"


def _first_bore(pieces: tuple[Piece, ...], otherwise: float) -> float:
    return next((p.bore_in for p in pieces if isinstance(p, Pipe)), otherwise)


def _crossovers(setup: Setup, cylinder: int, walk: _Walk) -> list[OutlinePart]:
    """Tubes to and from other routes, wherever they are written."""
    port = setup.engine.exhaust_port.length
    found = []
    for owner, pieces in setup.exhaust.route.items():
        for piece in pieces:
            if isinstance(piece, Crossover) and cylinder in (owner, piece.to):
                other = piece.to if owner == cylinder else owner
                place = port + piece.at
                bore = next((p.bore_start for p in walk.parts if p.start <= place <= p.end), walk.bore)
                found.append(_part("crossover", place, place, bore, piece.bore, f"crossover to {other}"))
    return found


def _cut(parts: list[OutlinePart], place: float) -> list[OutlinePart]:
    """What lies before a place, with a non-reflecting end there."""
    kept = [part for part in parts if part.end <= place + 1e-6 and part.kind not in ("end", "join")]
    kept = [part for part in kept if part.start < place - 1e-6]
    last = next(part for part in reversed(kept) if part.end > part.start)
    return [*kept, _part("end", place, place, last.bore_end, last.bore_end, "non-reflecting")]
