"""Recordings of a setup at many engine speeds."""

from __future__ import annotations

from collections.abc import Sequence

from pulsewright.bench.route import route_length
from pulsewright.bench.setup import Setup
from pulsewright.errors import InputError, UsageError
from pulsewright.network.case import Case
from pulsewright.network.options import Options
from pulsewright.simulate.load_kernels import load_kernels
from pulsewright.simulate.outcome import FAILED
from pulsewright.simulate.sweep import Progress, sweep
from pulsewright.sound.open_ends import EXHAUST, Recording, record

FINE = 0.5  # factor on all cell lengths: sound asks for shorter cells than torque does


def record_speeds(
    setup: Setup, speeds: Sequence[float], progress: Progress | None = None
) -> tuple[list[Recording], list[str]]:
    """A recording at every speed [rpm], in the order given, and how each speed ended.

    Raises UsageError where the model has no answer at a speed, InputError where no exhaust end is in the open.
    """
    options = Options(grid=FINE)
    load_kernels(setup, options)
    recordings: dict[float, Recording] = {}

    def keep(case: Case, rpm: float) -> None:
        recordings[rpm] = record(case, rpm)

    points = sweep(setup, speeds, options, progress=progress, seen=keep)
    for point in points:
        if point.outcome == FAILED:
            raise UsageError(f"no sound at {point.rpm:g} rpm: {FAILED}")
    found = [recordings[float(rpm)] for rpm in speeds]
    if not any(end.side == EXHAUST for end in found[0].ends):
        raise InputError(
            f"no exhaust end of '{setup.name}' is in the open, so it is not heard",
            hint='end a route with { piece = "end", kind = "open" }',
        )
    return found, [point.outcome for point in points]


def intake_ahead(setup: Setup) -> float:
    """Distance of the intake mouths before the exhaust ends [m]: that of the longest way back, laid straight."""
    behind = max((route_length(pieces) for pieces in setup.exhaust.after.values()), default=0.0)
    return max(route_length(pieces) for pieces in setup.exhaust.route.values()) + behind
