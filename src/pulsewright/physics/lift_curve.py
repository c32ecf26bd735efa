r"""Valve lift from a cam card: a smooth shape between opening and closing.

.. math:: L = L_{max} \sin^{1.6}(\pi x), \quad x = (\theta - \theta_o)/(\theta_c - \theta_o)

Source   a shape, not a published cam: exponent 1.6 puts 50 crank degrees between the timing at 1.27 mm
         and seat to seat for a lift of 11.2 mm and 256 degrees, as road cams have (common practice, no
         published source). Timings at a check lift are widened so that the curve passes through it.
Not for  ramps, lash and the flanks of a given cam: enter a lift table.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

EXPONENT = 1.6
CYCLE_DEG = 720.0


@scalar
def seat_timing(opens_deg: float, closes_deg: float, check_lift: float, lift: float) -> tuple[float, float]:
    """Seat-to-seat opening and closing angle from timings at a check lift. [deg], [deg]

    opens_deg, closes_deg : closing may be a smaller number (past 720); check_lift, lift [m].
    The result has closing after opening, so it may lie outside 0 to 720.
    """
    duration = (closes_deg - opens_deg) % CYCLE_DEG
    share = min(max(check_lift / lift, 0.0), 0.9)
    x = math.asin(share ** (1.0 / EXPONENT)) / math.pi
    extra = duration * x / (1.0 - 2.0 * x)
    return opens_deg - extra, opens_deg + duration + extra


@scalar
def valve_lift(angle_deg: float, seat_opens_deg: float, seat_closes_deg: float, lift: float) -> float:
    """Lift at any crank angle, 0 on the seat. [m]; angles seat to seat [deg], highest lift [m]"""
    duration = (seat_closes_deg - seat_opens_deg) % CYCLE_DEG
    x = ((angle_deg - seat_opens_deg) % CYCLE_DEG) / max(duration, 1e-9)
    if x >= 1.0:
        return 0.0
    return lift * math.sin(math.pi * x) ** EXPONENT
