"""Louder or quieter, by what stands at the end of the pipe. A tendency in words: no sound is computed here.

Rules are common practice (no published source): a silencer body and packing are quieter, a smaller way out
is a little quieter, a wider or shorter pipe is louder. A change to fuel or spark says nothing about sound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pulsewright.bench.exhaust import PACKINGS, CrossBolt, Disc, End, Insert, Muffler, Piece, Plate
from pulsewright.bench.route import outlet_bore, route_length
from pulsewright.bench.setup import Setup
from pulsewright.physics.obstacle_losses import plate_blocked_fraction, rod_blocked_fraction

LOUDER, SAME, QUIETER = "louder", "same", "quieter"
AREA_STEP = 0.05  # share of the way out below which nobody hears it
LENGTH_STEP = 0.10  # share of the pipe's length


@dataclass(frozen=True, slots=True)
class Loudness:
    """A tendency against the machine as it is, with its reason."""

    word: str
    why: str


def loudness(before: Setup, after: Setup) -> Loudness:
    """What a change of the exhaust does to the sound of the machine."""
    old, new = _outlets(before), _outlets(after)
    silencers = _silencers(new) - _silencers(old)
    if silencers:
        thing = "silencer or packing"
        return Loudness(QUIETER, f"{thing} fitted") if silencers > 0 else Loudness(LOUDER, f"{thing} taken out")
    if _packing_left(new) != _packing_left(old):
        more = _packing_left(new) > _packing_left(old)
        return Loudness(QUIETER, "fresh packing") if more else Loudness(LOUDER, "less packing")
    if len(new) < len(old):
        return Loudness(SAME, "pipes joined: another sound, about as loud")
    area = _open_area(new) / _open_area(old) - 1.0
    if abs(area) > AREA_STEP:
        return Loudness(QUIETER, "smaller way out") if area < 0.0 else Loudness(LOUDER, "wider way out")
    length = _length(after) / _length(before) - 1.0
    if abs(length) > LENGTH_STEP:
        return Loudness(QUIETER, "longer pipe") if length > 0.0 else Loudness(LOUDER, "shorter pipe")
    return Loudness(SAME, "the way out is as before")


def _outlets(setup: Setup) -> list[Sequence[Piece]]:
    routes = [*setup.exhaust.route.values(), *setup.exhaust.after.values()]
    return [route for route in routes if isinstance(route[-1], End)]


def _silencers(outlets: Sequence[Sequence[Piece]]) -> int:
    return sum(isinstance(p, Muffler) or (isinstance(p, Insert) and p.packed) for route in outlets for p in route)


def _packing_left(outlets: Sequence[Sequence[Piece]]) -> int:
    """More is fresher."""
    return -sum(PACKINGS.index(p.packing) for route in outlets for p in route if isinstance(p, Muffler))


def _open_area(outlets: Sequence[Sequence[Piece]]) -> float:
    """Way out of all routes, by bore and what blocks it. [m²/(pi/4)]"""
    return sum(outlet_bore(route) ** 2 * _open_share(route) for route in outlets)


def _open_share(route: Sequence[Piece]) -> float:
    bore, share = outlet_bore(route), 1.0
    for piece in route:
        if isinstance(piece, Plate):
            share = min(share, 1.0 - plate_blocked_fraction(piece.width / bore, piece.angle_deg))
        elif isinstance(piece, CrossBolt):
            share = min(share, 1.0 - rod_blocked_fraction(piece.diameter / bore))
        elif isinstance(piece, Disc):
            share = min(share, piece.open_area_fraction)
    return max(share, 0.01)


def _length(setup: Setup) -> float:
    return sum(route_length(r) for r in (*setup.exhaust.route.values(), *setup.exhaust.after.values()))
