"""The engine speed of the published stationary noise test."""

from __future__ import annotations

SLOW_ENGINE = 5000.0  # [rpm]


def stationary_speed(rated_speed: float) -> float:
    """Speed at which a motorcycle is held for the test of its exhaust. [rpm]

    rated_speed : speed of the highest power. [rpm]

    Source   ISO 5130 and UN Regulation 41, annex 3: three quarters of it up to 5000 rpm, half of it above (from
             memory; what holds for one machine stands in its papers).
    """
    return (0.75 if rated_speed <= SLOW_ENGINE else 0.5) * rated_speed
