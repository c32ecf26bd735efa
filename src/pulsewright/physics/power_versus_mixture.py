r"""Torque against mixture at fixed air and best spark.

Source   polynomial fit of a curve in Stone, Introduction to Internal Combustion Engines (read second
         hand), as losses at lambda 0.65 to 1.10: 16, 8, 3, 1, 0, 0.4, 1.5, 3.3, 5.4, 7.7 %.
         0.60 and 1.15 to 1.35 continue its trend; the share of cycles that fire falls to nothing
         over the bands that common practice gives for the limits: rich 0.65 to 0.50, lean misfire
         1.20 to 1.40.
Holds    lambda 0.65 to 1.10 at full throttle; the rest is a continuation.
Engines  differ on the rich side: fuel-air cycles, whose burn is complete and whose charge is well mixed, lose
         about half of what this engine lost (Heywood 1988, chapter 5, from memory); rich limits of 0.50 to 0.72 are
         reported (common practice). `torque_of_engine` and `firing_of_engine` take both as known of one engine.
"""

from __future__ import annotations

from pulsewright.physics.compiled import scalar

BEST_LAMBDA = 0.85
RICH_MISFIRE, LEAN_MISFIRE = 0.575, 1.30  # half the cycles fire
RICH_WIDTH, LEAN_WIDTH = 0.075, 0.10  # half width of the fall

_FIRST, _STEP, _LAST = 0.55, 0.05, 18
# lambda 0.55 0.60 | 0.65 ... 1.10 | 1.15 ... 1.45
_FACTOR = (
    0.57, 0.72, 0.84, 0.92, 0.97, 0.99, 1.0, 0.996, 0.985, 0.967, 0.946, 0.923,
    0.899, 0.873, 0.846, 0.817, 0.787, 0.756, 0.724,
)  # fmt: skip


@scalar
def _smooth_step(x: float) -> float:
    x = min(max(x, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


@scalar
def firing_share(lambda_: float) -> float:
    """Share of cycles that fire: 1 inside the limits, falling to 0 past them. [-]"""
    rich = _smooth_step((lambda_ - RICH_MISFIRE + RICH_WIDTH) / (2.0 * RICH_WIDTH))
    lean = _smooth_step((LEAN_MISFIRE + LEAN_WIDTH - lambda_) / (2.0 * LEAN_WIDTH))
    return rich * lean


@scalar
def torque_of_mixture(lambda_: float) -> float:
    """Published torque over best torque without misfire; cubic through the table. [-]"""
    place = min(max((lambda_ - _FIRST) / _STEP, 0.0), float(_LAST))
    k = min(int(place), _LAST - 1)
    t = place - k
    before, after = _FACTOR[max(k - 1, 0)], _FACTOR[min(k + 2, _LAST)]
    left, right = _FACTOR[k], _FACTOR[k + 1]
    slope_left, slope_right = 0.5 * (right - before), 0.5 * (after - left)
    bend = 3.0 * (right - left) - 2.0 * slope_left - slope_right
    twist = 2.0 * (left - right) + slope_left + slope_right
    return left + t * (slope_left + t * (bend + t * twist))


@scalar
def torque_of_engine(lambda_: float, rich_cost: float) -> float:
    """Torque over best torque of an engine that loses `rich_cost` times what is published on the rich side. [-]"""
    lost = 1.0 - torque_of_mixture(lambda_)
    return 1.0 - (rich_cost * lost if lambda_ < BEST_LAMBDA else lost)


@scalar
def firing_of_engine(lambda_: float, rich_limit: float) -> float:
    """Share of cycles that fire in an engine whose rich limit (half the cycles fire) is `rich_limit`. [-]"""
    return firing_share(lambda_ + RICH_MISFIRE - rich_limit if lambda_ < BEST_LAMBDA else lambda_)


@scalar
def mixture_factor(lambda_: float) -> float:
    """Torque over best torque at this lambda, misfire included. [-]"""
    return torque_of_mixture(lambda_) * firing_share(lambda_)
