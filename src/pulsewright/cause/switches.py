"""Causes taken away in the model, alone and together, at one engine speed.

The measured mixture is imposed on the engine as built, so that the carburettor's own errors do not
count. Where the echo is switched off, the mixture moves by as much as the carburettor in the model says:
the richness that an echo brings goes with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.cause.causes import EXHAUST_WAVE, INTAKE_WAVE, MIXTURE, RESTRICTION
from pulsewright.cause.shapley import shapley, subsets
from pulsewright.network.options import AS_BUILT, BEST_TORQUE_MIXTURE, NON_REFLECTING, Options
from pulsewright.simulate.sweep import sweep, usable_cores

SWITCHES = (EXHAUST_WAVE, INTAKE_WAVE, MIXTURE, RESTRICTION)
LEAST_GAIN = 0.005  # of the torque: below this nothing came back that could be shared out
RICHNESS_RANGE = (0.95, 1.4)  # what the echo may do to lambda; outside it the carburettor is not believed
TRIM_ROUNDS, TRIM_WITHIN, TRIM_RANGE = 4, 0.01, (0.4, 2.0)  # of the jets, to meet the measured mixture
SEARCH = 0.12  # the model's own bottom is looked for this far either side of the measured one
SEARCH_STEPS = 7
NEIGHBOURS = (-0.035, 0.0, 0.035)  # speeds about the bottom whose shares show how sure the split is
MODEL_DOUBT = 0.06  # half width that an unfitted model adds to every share, assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseShare:
    """One cause's part of the torque that all switches together bring back."""

    cause: str
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Outcome of the switches."""

    rpm: float  # [rpm] of the model's bottom
    measured_rpm: float  # [rpm] the speed asked for
    as_built: float  # [N m]
    all_off: float  # [N m]
    single: dict[str, float]  # [N m] with one cause taken away
    shares: tuple[CauseShare, ...]
    richness: float  # factor on lambda when the exhaust echo is taken away
    gain_fraction: float  # (all_off - as_built) / all_off


def split_causes(setup: Setup, rpm: float, mixture: float | None, *, search: bool = True) -> Split:
    """Shares of the loss at `rpm` [rpm]; `mixture` is the measured lambda there, None = carburettor's own."""
    bottom = model_bottom(setup, rpm, mixture) if search else rpm
    richness = echo_richness(setup, bottom, mixture)
    tables = [_table(setup, bottom * (1.0 + d), mixture, richness) for d in NEIGHBOURS]
    middle = tables[len(tables) // 2]
    members = _members(middle)
    per_speed = [_fractions(members, table) for table in tables]
    centre = _fractions(members, middle)
    shares = []
    for member in members:
        seen = [row[member] for row in per_speed if row]
        value = centre.get(member, 0.0)
        spread = max((abs(x - value) for x in seen), default=0.0)
        half = float(np.hypot(spread, MODEL_DOUBT))
        shares.append(CauseShare(cause=member, share=value, low=max(value - half, 0.0), high=min(value + half, 1.0)))
    whole = middle[frozenset(SWITCHES)]
    best = max(middle[frozenset(members)], middle[frozenset()])
    return Split(
        rpm=bottom,
        measured_rpm=rpm,
        as_built=middle[frozenset()],
        all_off=whole,
        single={s: middle[frozenset({s})] for s in SWITCHES},
        shares=tuple(sorted(shares, key=lambda s: -s.share)) if centre else (),
        richness=richness,
        gain_fraction=(best - middle[frozenset()]) / best,
    )


def model_bottom(setup: Setup, rpm: float, mixture: float | None) -> float:
    """Speed near `rpm` at which taking the exhaust echo away helps the model most. [rpm]

    Two honest models of one sheet may put the hole 100 rpm apart or more; shares read at the shoulder
    instead of the bottom would be wrong.
    """
    speeds = [rpm * (1.0 + d) for d in np.linspace(-SEARCH, SEARCH, SEARCH_STEPS)]
    options = Options(mixture=mixture)
    built = sweep(setup, speeds, options)
    free = sweep(setup, speeds, replace(options, exhaust_ends=NON_REFLECTING))
    gain = [f.torque / b.torque - 1.0 for f, b in zip(free, built, strict=True)]
    return float(speeds[int(np.argmax(gain))]) if max(gain) > LEAST_GAIN else rpm


def echo_richness(setup: Setup, rpm: float, mixture: float | None) -> float:
    """Trapped lambda without the exhaust's echo over that with it, by the carburettor in the model. [-]

    The jets are first trimmed until the carburettor gives the measured mixture with the echo.
    """
    trim, built = 1.0, math.nan
    for _ in range(TRIM_ROUNDS if mixture is not None else 1):
        built = sweep(setup, [rpm], Options(fuel_trim=trim))[0].lambda_trapped
        if mixture is None or not math.isfinite(built) or abs(built / mixture - 1.0) < TRIM_WITHIN:
            break
        trim = float(np.clip(trim * built / mixture, *TRIM_RANGE))
    free = sweep(setup, [rpm], Options(fuel_trim=trim, exhaust_ends=NON_REFLECTING))[0].lambda_trapped
    ratio = free / built if math.isfinite(free) and math.isfinite(built) and built > 0.0 else 1.0
    return float(np.clip(ratio, *RICHNESS_RANGE))


def _table(setup: Setup, rpm: float, mixture: float | None, richness: float) -> dict[frozenset[str], float]:
    """Torque [N m] with every subset of causes taken away."""
    groups = subsets(SWITCHES)
    with ThreadPoolExecutor(usable_cores()) as pool:
        torques = pool.map(lambda g: _torque(setup, rpm, g, mixture, richness), groups)
        return dict(zip(groups, torques, strict=True))


def _torque(setup: Setup, rpm: float, off: frozenset[str], mixture: float | None, richness: float) -> float:
    lambda_ = mixture
    if MIXTURE in off:
        lambda_ = BEST_TORQUE_MIXTURE
    elif mixture is not None and EXHAUST_WAVE in off:
        lambda_ = mixture * richness
    options = Options(
        exhaust_ends=NON_REFLECTING if EXHAUST_WAVE in off else AS_BUILT,
        intake_ends=NON_REFLECTING if INTAKE_WAVE in off else AS_BUILT,
        mixture=lambda_,
        lossless=RESTRICTION in off,
    )
    return sweep(setup, [rpm], options, threads=1)[0].torque


def _members(table: dict[frozenset[str], float]) -> list[str]:
    """Switches that give torque back. What helps the engine at this speed is no cause of its loss."""
    members: list[str] = list(SWITCHES)
    while members:
        gains = shapley(members, table)
        worst = min(gains, key=lambda m: gains[m])
        if gains[worst] >= 0.0:
            break
        members.remove(worst)
    return members


def _fractions(members: Sequence[str], table: dict[frozenset[str], float]) -> dict[str, float]:
    """Shares that add up to 1; empty where hardly anything comes back."""
    whole = table[frozenset(members)] - table[frozenset()]
    if not members or not np.isfinite(whole) or whole < LEAST_GAIN * abs(table[frozenset()]):
        return {}
    return {m: g / whole for m, g in shapley(members, table).items()}
