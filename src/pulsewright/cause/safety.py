"""Mixture that can hurt the engine at full throttle, by the measured and delay-corrected lambda.

Gates (common practice, no published source): lambda above 0.92 (air cooled) or 0.95 (water cooled) for
more than half a second is amber: no further leaning. Above 1.00 for 0.3 s is red: stop. A sensor that
outside air may reach proves neither safe nor unsafe.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.cause.evidence import doubted_sensor
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.setup_curves import SetupCurves

AMBER = {"air": 0.92, "water": 0.95}
RED = 1.00
SENSOR_MARGIN = 0.02  # what a wide-band sensor may be off
AMBER_SECONDS, RED_SECONDS = 0.5, 0.3
USUAL_RATE = 400.0  # [rpm/s] of a pull whose files hold no time
BIN = 50.0  # [rpm]


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyNote:
    """One warning; `level` is "red", "amber", "unknown" or "note"."""

    what: str
    setup: str
    rpm: float
    level: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanPoint:
    """The leanest full-throttle point of all pulls."""

    value: float  # [-]
    rpm: float
    setup: str
    gate: float
    trusted: bool


def safety_notes(session: Session, pulls: SessionPulls) -> list[SafetyNote]:
    """Warnings for every setup, worst first."""
    notes = []
    for name, curves in pulls.setups.items():
        gate = AMBER[session.setup(name).setup.engine.cooling]
        notes += _of_setup(pulls, name, curves, gate)
    order = {"red": 0, "amber": 1, "unknown": 2, "note": 3}
    return sorted(notes, key=lambda n: order[n.level])


def lean_gate(session: Session, name: str) -> float:
    """Lambda above which nothing leaner may be advised for a setup. [-]"""
    return AMBER[session.setup(name).setup.engine.cooling]


def leanest(session: Session, pulls: SessionPulls) -> LeanPoint | None:
    """The leanest point, None without a lambda channel."""
    best = None
    for name, curves in pulls.setups.items():
        if not np.isfinite(curves.mixture).any():
            continue
        k = int(np.nanargmax(curves.mixture))
        value = float(curves.mixture[k])
        if best is None or value > best.value:
            trusted = not doubted_sensor(pulls, name)
            best = LeanPoint(
                value=value, rpm=float(curves.rpm[k]), setup=name, gate=lean_gate(session, name), trusted=trusted
            )
    return best


def _of_setup(pulls: SessionPulls, name: str, curves: SetupCurves, gate: float) -> list[SafetyNote]:
    known = np.isfinite(curves.mixture)
    if not known.any():
        return [SafetyNote(what="no lambda channel: the mixture is unknown", setup=name, rpm=0.0, level="unknown")]
    if doubted_sensor(pulls, name):
        k = int(np.nanargmax(curves.mixture))
        return [
            SafetyNote(
                what=f"lambda reads up to {curves.mixture[k]:.2f}, but outside air may reach the sensor: the mixture "
                "is unknown, neither safe nor unsafe",
                setup=name, rpm=float(curves.rpm[k]), level="unknown",
            )
        ]  # fmt: skip
    rate = _rate(pulls, name)
    for limit, seconds, level, text in (
        (RED, RED_SECONDS, "red", "lambda above 1.00 at full throttle: stop, do not pull again like this"),
        (gate, AMBER_SECONDS, "amber", f"lambda above the lean gate of {gate:.2f}: go no leaner"),
    ):
        at = _longest_over(curves, limit - SENSOR_MARGIN, seconds * rate)
        if at is not None:
            return [SafetyNote(what=text, setup=name, rpm=at, level=level)]
    return []


def _rate(pulls: SessionPulls, name: str) -> float:
    """Mean sweep rate of a setup's pulls. [rpm/s]"""
    rates = []
    for pull in pulls.pulls_of(name):
        if pull.time is not None and pull.kind == "sweep":
            speed = pull.engine_speed
            rates.append(abs(float(speed[-1] - speed[0])) / max(float(pull.time[-1] - pull.time[0]), 0.1))
    return float(np.mean(rates)) if rates else USUAL_RATE


def _longest_over(curves: SetupCurves, limit: float, span: float) -> float | None:
    """Speed of the worst point of a stretch of at least `span` rpm that lies above `limit`, else None."""
    over = np.nan_to_num(curves.mixture, nan=0.0) > limit
    start = None
    for k in range(over.size + 1):
        if k < over.size and over[k]:
            start = k if start is None else start
            continue
        if start is not None and (k - start) * BIN >= span:
            worst = start + int(np.argmax(curves.mixture[start:k]))
            return float(curves.rpm[worst])
        start = None
    return None
