"""Where the ends of the machine lie, where the microphone stands, and the ways sound takes from one to the other.

The ground is hard and sends everything back: each end has a mirror image under it. The machine's own body, the
rider and walls are not there.

Axes: x along the machine and backwards from the first exhaust end, y to the side of the microphone, z up. [m]
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Point = tuple[float, float, float]  # [m]

# What no sheet says about where things lie. All assumed.
END_HEIGHT = 0.35  # [m] of the exhaust ends over the ground
ENDS_APART = 0.10  # [m] between neighbouring exhaust ends or intake mouths, side by side
MOUTH_HEIGHT = 0.60  # [m] of the intake mouths over the ground
LEAST_HEIGHT = 0.2  # [m] of the near microphone over the ground, ISO 5130


@dataclass(frozen=True, slots=True)
class Place:
    """A microphone of a published test."""

    key: str
    words: str
    at: Point


_NEAR = 0.5 / math.sqrt(2.0)
NEAR = Place("near", "0.5 m from the end at 45°", (_NEAR, _NEAR, max(END_HEIGHT, LEAST_HEIGHT)))
"""ISO 5130: 0.5 m from the outlet, 45 degrees off its axis, at its height (from memory)."""
FAR = Place("far", "7.5 m to the side, 1.2 m high", (0.0, 7.5, 1.2))
"""The microphone of ISO 362, here beside a machine that stands (from memory)."""
PLACES = (NEAR, FAR)


def exhaust_end(number: int) -> Point:
    """Where an exhaust end lies; the first one, nearest to the microphone, is number 0."""
    return (0.0, -ENDS_APART * number, END_HEIGHT)


def intake_mouth(number: int, ahead: float) -> Point:
    """Where an intake mouth lies, `ahead` of the exhaust ends [m]."""
    return (-ahead, -ENDS_APART * number, MOUTH_HEIGHT)


def paths(source: Point, place: Place) -> tuple[float, float]:
    """Lengths of the straight way and of the way over the ground. [m]"""
    x, y, z = source
    return math.dist(source, place.at), math.dist((x, y, -z), place.at)
