"""The engine speed of the published stationary noise test."""

from __future__ import annotations

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.errors import UsageError
from pulsewright.simulate.fidelity import DRAG
from pulsewright.simulate.predict import predict

SLOW_ENGINE = 5000.0  # [rpm]
LOOKED_AT = tuple(50.0 * round(1500.0 * 1.06**n / 50.0) for n in range(37))  # [rpm] 1500 to 12200


def stationary_speed(rated_speed: float) -> float:
    """Speed at which a motorcycle is held for the test of its exhaust. [rpm]

    rated_speed : speed of the highest power. [rpm]

    Source   ISO 5130 and UN Regulation 41, annex 3: three quarters of it up to 5000 rpm, half of it above (from
             memory; what holds for one machine stands in its papers).
    """
    return (0.75 if rated_speed <= SLOW_ENGINE else 0.5) * rated_speed


def rated_speed(setup: Setup) -> float:
    """Speed of the highest power in the model, within 3 %. [rpm]

    Raises UsageError where none of the speeds looked at shows a top.
    """
    prediction = predict(setup, LOOKED_AT, level=DRAG)
    power = np.where(np.isfinite(prediction.power_kw), prediction.power_kw, -np.inf)
    best = int(np.argmax(power))
    if not 0 < best < len(LOOKED_AT) - 1:
        raise UsageError(
            f"power has no top between {LOOKED_AT[0]:.0f} and {LOOKED_AT[-1]:.0f} rpm in the model",
            hint="give the speed to listen at, as in --rpm 3000",
        )
    return LOOKED_AT[best]
