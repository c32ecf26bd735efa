"""Measures along one exhaust route: where a piece sits, and how wide the bore is there."""

from collections.abc import Sequence
from dataclasses import dataclass

from pulsewright.bench.exhaust import Crossover, Exhaust, Insert, Muffler, Piece, Pipe

Host = Pipe | Muffler
"""Pieces with a length, in which obstacles sit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A crossover tube between two routes."""

    cylinders: tuple[int, int]
    at: tuple[float, float]  # [m] from each port flange along its route
    bore: float  # [m]
    length: float  # [m]


def piece_length(piece: Piece) -> float:
    """Length that a piece adds to its route. [m]"""
    if isinstance(piece, Pipe):
        return piece.length
    return piece.body_length if isinstance(piece, Muffler) else 0.0


def route_length(pieces: Sequence[Piece]) -> float:
    """Length of a route from its first flange to its end. [m]"""
    return sum(piece_length(piece) for piece in pieces)


def host_of(pieces: Sequence[Piece], index: int) -> Host | None:
    """The pipe or muffler in which the obstacle at `index` (from 0) sits: the last one before it."""
    return next((piece for piece in reversed(pieces[:index]) if isinstance(piece, Pipe | Muffler)), None)


def bore_in_host(host: Host, from_end: float) -> float:
    """Bore of a pipe, or of a muffler's core, at a distance before its outlet end. [m]"""
    if isinstance(host, Muffler):
        return host.core_bore
    return host.bore_out + (host.bore_in - host.bore_out) * from_end / host.length


def bore_at(pieces: Sequence[Piece], distance: float) -> float | None:
    """Bore at a distance [m] along a route; None beyond its end. [m]"""
    for piece in pieces:
        length = piece_length(piece)
        if isinstance(piece, Pipe | Muffler) and distance <= length:
            return bore_in_host(piece, length - distance)
        distance -= length
    return None


def outlet_bore(pieces: Sequence[Piece]) -> float:
    """Bore at the end of a route; an insert in the end counts. [m]"""
    for piece in reversed(pieces):
        if isinstance(piece, Insert):
            return piece.bore
        if isinstance(piece, Pipe | Muffler):
            return bore_in_host(piece, 0.0)
    raise ValueError("a route without a pipe or a muffler has no bore")


def crossover_links(exhaust: Exhaust) -> tuple[Link, ...]:
    """Every crossover once; one that is written in both routes counts from its own flange in each."""
    links = []
    for cylinder, pieces in exhaust.route.items():
        counts: dict[int, int] = {}
        for piece in crossovers(pieces):
            order = counts[piece.to] = counts.get(piece.to, 0) + 1
            twin = _twin(exhaust, cylinder, piece, order)
            if twin is not None and piece.to < cylinder:
                continue  # already met from the other side
            links.append(
                Link(
                    cylinders=(cylinder, piece.to),
                    at=(piece.at, twin.at if twin else piece.at),
                    bore=piece.bore,
                    length=piece.length,
                )
            )
    return tuple(links)


def crossovers(pieces: Sequence[Piece]) -> list[Crossover]:
    """The crossovers of one route, in order."""
    return [piece for piece in pieces if isinstance(piece, Crossover)]


def _twin(exhaust: Exhaust, cylinder: int, piece: Crossover, order: int) -> Crossover | None:
    """The same crossover as the other route writes it: the one of the same order that leads back."""
    back = [other for other in crossovers(exhaust.route.get(piece.to, ())) if other.to == cylinder]
    return back[order - 1] if order <= len(back) else None
