"""What may not be recommended: mixture or knock that could pass its gate anywhere within the interval.

Lean gates are those of cause/safety.py (common practice, no published source): amber 0.92 air-cooled, 0.95
water-cooled, red 1.00, each less what the sensor may be off. They are asked at every speed that the pulls reach
and a little above, against the upper end of the 80 % interval, without any grace of time. Where lambda is
unknown nothing is recommended. The knock gate asks whether the end gas could come nearer to self-ignition than
the machine has stood at its worst speed, in any setup that was pulled.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pulsewright.cause.safety import RED, SENSOR_MARGIN
from pulsewright.remedies.forecast import Forecast
from pulsewright.remedies.reference import Reference

KNOCK_ROOM = 1.05  # of the highest end-gas integral stood so far; 5 % is what 3 % more filling brings (p^1.7)
KNOCK_SAFE = 0.70  # an integral below this passes anyway: the delay holds to 30 %
LEAN, KNOCK, UNKNOWN, NO_ANSWER = "lean gate", "knock gate", "lambda unknown", "no answer"


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why something is not recommended; `gate` is one of the four words above."""

    gate: str
    why: str
    rpm: float | None


def refusals(reference: Reference, found: Forecast) -> tuple[Refusal, ...]:
    """Reasons against a change; empty where it may be recommended."""
    checks: tuple[Callable[[Reference, Forecast], Refusal | None], ...] = (_answered, _known, _lean, _knock)
    return tuple(r for check in checks if (r := check(reference, found)) is not None)


def _answered(reference: Reference, found: Forecast) -> Refusal | None:
    curves = (found.knock_high, found.integral_high, found.leaning_high)
    missing = found.no_answer | ~np.all([np.isfinite(c) for c in curves], axis=0)
    if not missing.any():
        return None
    rpm = float(reference.rpm[int(np.argmax(missing))])
    return Refusal(NO_ANSWER, f"the model gives no answer near {rpm:.0f} rpm: what happens there is unknown", rpm)


def _known(reference: Reference, found: Forecast) -> Refusal | None:
    unknown = ~reference.mixture_known | ~np.isfinite(found.lean_high)
    if not unknown.any():
        return None
    rpm = float(reference.rpm[int(np.argmax(unknown))])
    if reference.doubted:
        return Refusal(UNKNOWN, "lambda is unknown: outside air may reach the sensor", rpm)
    if unknown.all():
        return Refusal(UNKNOWN, "lambda is unknown: the pulls have no lambda channel", None)
    return Refusal(UNKNOWN, f"lambda is unknown near {rpm:.0f} rpm: no reading there", rpm)


def _lean(reference: Reference, found: Forecast) -> Refusal | None:
    known = np.isfinite(found.lean_high)
    if not known.any():
        return None
    high = np.where(known, found.lean_high, -np.inf) + SENSOR_MARGIN
    worst = int(np.argmax(high))
    if high[worst] <= reference.lean_gate:
        return None
    rpm, gate = float(reference.rpm[worst]), RED if high[worst] > RED else reference.lean_gate
    return Refusal(
        LEAN,
        f"lambda of the leanest cylinder could reach {high[worst] - SENSOR_MARGIN:.2f} at {rpm:.0f} rpm; with "
        f"{SENSOR_MARGIN:.2f} for the sensor that passes the {'red' if gate == RED else 'lean'} gate of {gate:.2f}",
        rpm,
    )


def _knock(reference: Reference, found: Forecast) -> Refusal | None:
    near = (found.knock_high > KNOCK_ROOM) & (found.integral_high > KNOCK_SAFE)
    if not near.any():
        return None
    worst = int(np.argmax(np.where(near, found.knock_high, -np.inf)))
    rpm, more = float(reference.rpm[worst]), 100.0 * (found.knock_high[worst] - 1.0)
    return Refusal(
        KNOCK,
        f"the end gas could come up to {more:.0f} % nearer to knock at {rpm:.0f} rpm than it has been at its worst "
        f"speed so far (gate: {100.0 * (KNOCK_ROOM - 1.0):.0f} %)",
        rpm,
    )
