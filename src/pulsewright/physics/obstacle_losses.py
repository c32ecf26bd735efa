r"""Loss of things that stand in a pipe: bolt, plate, disc, butterfly, bend, tee.

dp = K rho U^2 / 2 with U the pipe velocity. Published estimates of one obstacle disagree, so every
function gives (low, central, high); show the band, do not hide it.

Source   rod: drag of a cylinder (Cd 1.2, sub-critical, Hoerner 1965) with blocked area; wake
         expansion (Borda-Carnot) as lower bound; Idelchik form from memory as upper bound, doubtful
         above rod / bore 0.2 and capped there. Plate, disc:
         sharp orifice of the same open area (Idelchik form and Weisbach jet, area_losses.py).
         Butterfly: Weisbach's table (5, 10, 20, 40, 60 deg seen in a secondary page, rest memory).
         Bend: handbook values for smooth bends (from memory). Tee: handbook lists (secondary).
Holds    high Reynolds number, obstacle several bores from the next one and from the open end.
"""

from __future__ import annotations

import math

from pulsewright.physics.area_losses import jet_loss, sharp_orifice
from pulsewright.physics.compiled import scalar

DRAG_ROD = 1.2  # [-] Hoerner, Fluid-Dynamic Drag (1965); Re 1e3 to 2e5
SMALLEST_OPENING = 0.02  # a plate never seals; keeps K finite


@scalar
def rod_blocked_fraction(diameter_ratio: float) -> float:
    """Share of a round pipe's area covered by a rod through its middle; rod / bore 0..1. [-]"""
    x = min(max(diameter_ratio, 0.0), 1.0)
    return 2.0 / math.pi * (math.asin(x) + x * math.sqrt(1.0 - x * x))


@scalar
def rod_loss(diameter_ratio: float) -> tuple[float, float, float]:
    """Loss (low, central, high) of a rod through the full bore, e.g. a cross-bolt. [-]

    Central is the drag form; low the wake expansion alone; high the Idelchik form, at most 2.7 times
    the drag form (the ratio it reaches at rod / bore 0.2, above which it runs away).
    """
    blocked = rod_blocked_fraction(diameter_ratio)
    left = max(1.0 - blocked, SMALLEST_OPENING)
    drag = DRAG_ROD * blocked / (left * left)
    wake = (1.0 / left - 1.0) ** 2
    closeness = max(1.0 - 1.5 * blocked, 0.05)
    idelchik = 1.15 * DRAG_ROD * blocked / closeness**3
    return min(wake, drag), drag, max(drag, min(idelchik, 2.7 * drag))


@scalar
def plate_blocked_fraction(width_ratio: float, angle_deg: float) -> float:
    """Share of the bore that a flat strip right across it covers. [-]

    width_ratio = plate width / bore; angle_deg 0 = edge on, 90 = square to the flow. The strip runs
    along a diameter and is turned about it.
    """
    return rod_blocked_fraction(width_ratio * abs(math.sin(math.radians(angle_deg))))


@scalar
def plate_loss(width_ratio: float, angle_deg: float) -> tuple[float, float, float]:
    """Loss (low, central, high) of a flat plate across the pipe at an angle. [-]

    Central: sharp orifice of the same open area. Low: wake expansion without contraction.
    High: 1.5 times central (two long edges each shed their own jet; assumed band).
    """
    left = max(1.0 - plate_blocked_fraction(width_ratio, angle_deg), SMALLEST_OPENING)
    central = sharp_orifice(left)
    return (1.0 / left - 1.0) ** 2, central, 1.5 * central


@scalar
def disc_loss(open_fraction: float) -> tuple[float, float, float]:
    """Loss (low, central, high) of a thin disc with holes; open area / pipe area. [-]

    The two published forms of the orifice span the band, widened by their 10 %.
    """
    s = max(min(open_fraction, 1.0), SMALLEST_OPENING)
    one, other = sharp_orifice(s), jet_loss(s)
    return 0.9 * min(one, other), 0.5 * (one + other), 1.1 * max(one, other)


@scalar
def butterfly_loss(angle_deg: float) -> tuple[float, float, float]:
    """Loss (low, central, high) of a butterfly plate; degrees closed from fully open. [-]

    Weisbach's table, logarithm linear between its rows, held at 70 degrees; band 15 %.
    """
    angle = min(max(angle_deg, 0.0), 70.0)
    central = math.exp(_butterfly_log(angle)) * min(1.0, 0.3 + 0.7 * angle / 5.0)
    return 0.85 * central, central, 1.15 * central


@scalar
def _butterfly_log(angle: float) -> float:
    # ln K of 0.24 0.52 0.90 1.54 2.51 3.91 10.8 32.6 118 751 at 5..30 by 5, then 40..70 by 10 degrees
    logs = (-1.42711636, -0.65392647, -0.10536052, 0.43178242, 0.92028275, 1.36353737)
    high = (1.36353737, 2.37954613, 3.48431229, 4.77068462, 6.62140565)
    if angle <= 5.0:
        return logs[0]
    if angle <= 30.0:
        k = min(int((angle - 5.0) / 5.0), 4)
        part = (angle - 5.0 - 5.0 * k) / 5.0
        return logs[k] + part * (logs[k + 1] - logs[k])
    k = min(int((angle - 30.0) / 10.0), 3)
    part = (angle - 30.0 - 10.0 * k) / 10.0
    return high[k] + part * (high[k + 1] - high[k])


@scalar
def bend_loss(angle_deg: float, radius_ratio: float) -> tuple[float, float, float]:
    """Loss (low, central, high) of a smooth bend; centre-line radius / bore. [-]

    0.21 / sqrt(radius ratio) for 90 degrees, scaled by angle (Idelchik form, from memory); +/-40 %.
    Friction along the bend's length is not in it.
    """
    turn = abs(angle_deg)
    if turn <= 70.0:
        share = 0.9 * math.sin(math.radians(turn))
    elif turn < 100.0:  # joins both published branches, 1.01 at 90 degrees
        share = 0.8457 + (turn - 70.0) / 30.0 * (1.0889 - 0.8457)
    else:
        share = 0.7 + 0.35 * turn / 90.0
    central = 0.21 / math.sqrt(max(radius_ratio, 0.5)) * share
    return 0.6 * central, central, 1.4 * central


@scalar
def tee_run_loss() -> tuple[float, float, float]:
    """Loss (low, central, high) straight through a tee, on the run's velocity. [-]"""
    return 0.28, 0.4, 0.52


@scalar
def tee_branch_loss() -> tuple[float, float, float]:
    """Loss (low, central, high) of flow that turns into or out of a tee's branch. [-]"""
    return 0.7, 1.0, 1.3
