"""How far one design lies beyond two others, where all three lie on one straight way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pulsewright.bench.setup import Setup

ASTRAY = 0.05  # of the new step, that may point away from the last one
FURTHEST = 3.0  # steps as long as the last one, onwards or back


def numbers_of(setup: Setup) -> tuple[float, ...]:
    """All numbers of a setup, in the order of its sheet."""
    return tuple(_numbers(setup))


def how_far(before: tuple[float, ...], last: tuple[float, ...], now: tuple[float, ...]) -> float | None:
    """How many times the step from `before` to `last` leads from there on to `now`; None where they are not in line.

    Every number counts as a share of itself.
    """
    if not len(before) == len(last) == len(now):
        return None
    size: NDArray[np.float64] = np.maximum(np.abs(last), 1e-12)
    step, onward = np.subtract(last, before) / size, np.subtract(now, last) / size
    length = float(step @ step)
    if length == 0.0:
        return None
    share = float(onward @ step) / length
    off = onward - share * step
    in_line = float(off @ off) <= ASTRAY**2 * float(onward @ onward)
    return share if in_line and abs(share) <= FURTHEST else None


def _numbers(part: Any) -> Iterator[float]:
    if isinstance(part, bool | str) or part is None:
        return
    if isinstance(part, int | float):
        yield float(part)
    elif is_dataclass(part):
        for field in fields(part):
            if field.name != "assumptions":
                yield from _numbers(getattr(part, field.name))
    elif isinstance(part, dict):
        for value in part.values():
            yield from _numbers(value)
    elif isinstance(part, tuple | list | np.ndarray):
        for value in part:
            yield from _numbers(value)
