"""A setup over engine speed and throttle: what it does, and which circuit feeds it where.

Customary picture (common practice, no published source): idle and pilot rule from shut to an eighth, progression
and cutaway to a quarter, the needle from a quarter to three quarters, the main jet above; all overlap.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pulsewright.bench.assumption import Assumption
from pulsewright.bench.carburettor import SLIDE, Carburettor
from pulsewright.bench.setup import Setup
from pulsewright.bench.throttle import with_throttle
from pulsewright.network.metering import NOZZLE_CD, slope_of
from pulsewright.network.options import Options, steady_hold
from pulsewright.physics.jet_flow import CD_CHAMFERED
from pulsewright.physics.needle_annulus import needle_annulus, needle_diameter
from pulsewright.simulate.fidelity import FINAL, Level
from pulsewright.simulate.load_kernels import load_kernels
from pulsewright.simulate.model_assumptions import model_assumptions
from pulsewright.simulate.settle import patient
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import sweep

FORMAT = "pulsewright throttle map 1"
MAIN, NEEDLE, IDLE = "main jet", "needle", "idle and progression"
CIRCUITS = (MAIN, NEEDLE, IDLE)
CURVES = {
    "torque_nm": lambda p: p.torque,
    "volumetric_efficiency": lambda p: p.volumetric_efficiency,
    "lambda_delivered": lambda p: p.lambda_delivered,
    "residual_fraction": lambda p: p.residual,
    "pressure_behind_kpa": lambda p: p.pressure_behind * 1e-3,
    "piston_lift_mm": lambda p: float(np.mean(p.piston_lift)) * 1e3,
}

Progress = Callable[[int, int, float], None]  # points done, points in all, last speed


@dataclass(frozen=True, slots=True, kw_only=True)
class ThrottleMap:
    """Arrays have a row for each opening of the throttle and a column for each speed."""

    throttle: np.ndarray  # (openings,) share of the way from shut to wide open
    rpm: np.ndarray  # (speeds,)
    curves: dict[str, np.ndarray]  # by the names of CURVES
    fuel_share: dict[str, np.ndarray]  # by the names of CIRCUITS, together 1
    outcome: tuple[tuple[str, ...], ...]
    assumptions: tuple[Assumption, ...]

    def ruler(self) -> list[list[str]]:
        """The circuit that gives most fuel at every opening and speed; "-" where none flows."""
        shares = np.stack([self.fuel_share[name] for name in CIRCUITS])
        most = np.argmax(np.nan_to_num(shares), axis=0)
        some = np.isfinite(shares[0])
        return [
            [CIRCUITS[k] if ok else "-" for k, ok in zip(*rows, strict=True)] for rows in zip(most, some, strict=True)
        ]

    def as_json(self) -> dict[str, Any]:
        """Plain data with the format's name."""
        return {
            "format": FORMAT,
            "throttle": self.throttle,
            "rpm": self.rpm,
            **self.curves,
            "fuel_share": self.fuel_share,
            "rules": self.ruler(),
            "outcome": self.outcome,
            "assumptions": [{"key": a.key, "value": a.value, "why": a.why} for a in self.assumptions],
        }


def throttle_map(
    setup: Setup, openings: Sequence[float], speeds: Sequence[float], *, level: Level = FINAL, hold: bool = False,
    progress: Progress | None = None, threads: int | None = None,
) -> ThrottleMap:  # fmt: skip
    """The model at every opening (0.01 to 1) and engine speed [rpm]; `hold`: every point is held until it is warm."""
    options = steady_hold(Options(grid=level.grid)) if hold else Options(grid=level.grid)
    load_kernels(setup, options)
    rows: list[list[SpeedPoint]] = []
    for n, opening in enumerate(openings):

        def told(done: int, _all: int, rpm: float, before: int = n * len(speeds)) -> None:
            if progress is not None:
                progress(before + done, len(openings) * len(speeds), rpm)

        part = with_throttle(setup, opening)
        rows.append(sweep(part, speeds, options, within=patient(level.within, part), progress=told, threads=threads))
    shares = [
        [_shares(with_throttle(setup, opening), point) for point in row]
        for opening, row in zip(openings, rows, strict=True)
    ]
    part = with_throttle(setup, min(openings))
    return ThrottleMap(
        throttle=np.array(openings, dtype=float),
        rpm=np.array(speeds, dtype=float),
        curves={name: np.array([[of(p) for p in row] for row in rows]) for name, of in CURVES.items()},
        fuel_share={name: np.array([[s[name] for s in row] for row in shares]) for name in CIRCUITS},
        outcome=tuple(tuple(p.outcome for p in row) for row in rows),
        assumptions=(*part.assumptions, *model_assumptions(part, options)),
    )


def _shares(setup: Setup, point: SpeedPoint) -> dict[str, float]:
    """Share of all fuel by what holds it back: main jet, ring round the needle, idle and progression."""
    given = dict.fromkeys(CIRCUITS, 0.0)
    for part, lift, (main, idle) in zip(setup.carburettors, point.piston_lift, point.fuel_by_circuit, strict=True):
        needle = needle_share(part, part.throttle * part.venturi if part.kind == SLIDE else lift)
        given[MAIN] += (1.0 - needle) * main
        given[NEEDLE] += needle * main
        given[IDLE] += idle
    whole = sum(given.values())
    return {name: mass / whole if whole > 0.0 else float("nan") for name, mass in given.items()}


def needle_share(part: Carburettor, lift: float) -> float:
    """Share of the main circuit's pressure loss in the ring round the needle at a lift [m]; its rest is the jet's. [-]

    Fuel alone, without the bleed's air: jet and ring one behind the other, loss over the square of the area.
    """
    needle = part.needle
    if needle is None:
        return 0.0
    diameter = needle_diameter(lift, needle.straight - needle.raised, needle.diameter, slope_of(needle))
    ring = NOZZLE_CD * needle_annulus(needle.jet, diameter)
    jet = CD_CHAMFERED * needle_annulus(part.main_jet, 0.0)
    return jet * jet / (jet * jet + ring * ring)
