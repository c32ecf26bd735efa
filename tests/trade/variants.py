"""The generic twin as it stands, and with one thing changed at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from tests.trade.generic_twin import BORE, OPEN, pipe, route, twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.simulate.sweep import sweep

NEAR_END = 'from_end = "50 mm"'
BOLT = f'{{ piece = "cross-bolt", diameter = "8 mm", {NEAR_END} }}'
INSERT = '{ piece = "insert", length = "300 mm", bore = "25 mm", packed = true }'
MUFFLER = (
    '{ piece = "muffler", body_length = "400 mm", body_bore = "100 mm", core_bore = "38 mm",'
    ' core = "baffled", chambers = 2 }'
)


def plate(angle: int) -> str:
    """A strip of 16 mm across the pipe near its end."""
    return f'{{ piece = "plate", width = "16 mm", angle = "{angle} deg", {NEAR_END} }}'


EXHAUSTS = {
    "open": route(pipe(), OPEN),
    "20 % more pipe": route(pipe(1.2 * 0.90), OPEN),
    "cross-bolt": route(pipe(), BOLT, OPEN),
    "plate 45": route(pipe(), plate(45), OPEN),
    "plate 90": route(pipe(), plate(90), OPEN),
    "baffled muffler": route(pipe(), MUFFLER, pipe(0.15, 38.0), OPEN),
    "small packed insert": route(pipe(), INSERT, OPEN),
}
JETS: dict[str, dict[str, float]] = {
    "main jet 1.75": {"main_jet": 1.75},
    "main jet 1.70": {"main_jet": 1.70},
    "main jet 1.65": {"main_jet": 1.65},
    "main bleed 1.4": {"main_air_bleed": 1.4},
    "main bleed 1.6": {"main_air_bleed": 1.6},
    "intermediate jet 0.5": {"intermediate_jet": 0.5},
    "intermediate bleed 1.5": {"intermediate_air_bleed": 1.5},
    "main jet 1.90": {"main_jet": 1.90},
}
OPTIONS = {
    "non-reflecting": Options(exhaust_ends=NON_REFLECTING),
    "premixed": Options(mixture=0.87),
    "premixed, non-reflecting": Options(mixture=0.87, exhaust_ends=NON_REFLECTING),
}

# 250 rpm apart, 125 rpm around the hole
EVERY_SPEED = [*range(1500, 2751, 250), *range(2750, 3501, 125), *range(3750, 5501, 250)]
FEW_SPEEDS = [1750, 2500, 3000, 3125, 3250, 3375, 4000, 5000]  # jets: the hole's bottom and points far off


@dataclass(frozen=True, slots=True)
class Curve:
    """One variant over engine speed."""

    rpm: np.ndarray
    torque: np.ndarray  # [N m]
    mixture: np.ndarray  # trapped lambda
    by_cylinder: np.ndarray  # trapped lambda, (speeds, cylinders)
    residual: np.ndarray
    suction: np.ndarray  # [Pa] mean at the venturi
    outcome: tuple[str, ...]

    def at(self, values: np.ndarray, rpm: float) -> float:
        """A column of the curve at a speed, linear in between."""
        return float(np.interp(rpm, self.rpm, values))


def run_variant(name: str) -> Curve:
    """Sweep one variant; names are those of the tables above."""
    speeds = FEW_SPEEDS if name in JETS else sorted(set(EVERY_SPEED))
    text = twin(None, **JETS[name]) if name in JETS else twin(EXHAUSTS.get(name))
    points = sweep(setup_from_text(text, "generic twin"), speeds, OPTIONS.get(name))
    return Curve(
        rpm=np.array([p.rpm for p in points]),
        torque=np.array([p.torque for p in points]),
        mixture=np.array([p.lambda_trapped for p in points]),
        by_cylinder=np.array([p.trapped_by_cylinder for p in points]),
        residual=np.array([p.residual for p in points]),
        suction=np.array([p.mean_suction[0] for p in points]),
        outcome=tuple(p.outcome for p in points),
    )


@dataclass(frozen=True, slots=True)
class Hole:
    """The deepest place of a torque curve between its shoulders."""

    rpm: float  # of the bottom, by a parabola through the lowest point and its neighbours
    depth: float  # 1 - torque at the lowest point / lower shoulder
    lowest: float  # [rpm] the speed of the grid


MID_RANGE = (2250.0, 4250.0)  # another, smaller hole of the next echo lies near 1750 rpm
REACH = 1500.0  # [rpm] how far a shoulder may lie from the bottom


def hole(curve: Curve) -> Hole:
    """The hole in the mid range, on the grid of the sweep; shoulder = highest torque on each side."""
    n, t = curve.rpm, curve.torque

    def depth(k: int) -> float:
        left = t[(n < n[k]) & (n >= n[k] - REACH)]
        right = t[(n > n[k]) & (n <= n[k] + REACH)]
        return 1.0 - t[k] / min(left.max(), right.max())

    inside = [k for k in range(1, n.size - 1) if MID_RANGE[0] <= n[k] <= MID_RANGE[1]]
    k = max(inside, key=depth)
    a, b, _ = np.polyfit(n[k - 1 : k + 2] - n[k], t[k - 1 : k + 2], 2)
    bottom = n[k] - 0.5 * b / a if a > 0.0 else n[k]
    return Hole(rpm=float(bottom), depth=max(float(depth(k)), 0.0), lowest=float(n[k]))


__all__ = ["BORE", "EXHAUSTS", "JETS", "OPTIONS", "Curve", "Hole", "hole", "run_variant"]
