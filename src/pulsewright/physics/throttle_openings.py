r"""What a butterfly or a slide leaves open of its bore, and what that loses: dp = K rho U^2 / 2, U in the bore.

A thin plate that closes at an angle :math:`\psi_0` to the cross-section and stands at :math:`\psi` leaves the bore
less its projection; a slide with a flat lower edge leaves a segment of the circle:

.. math:: s_{plate} = 1 - \frac{\cos\psi}{\cos\psi_0}, \qquad
          A_{slide} = \frac{D^2}{4}\left(\theta - \sin\theta\cos\theta\right), \quad
          \cos\theta = 1 - 2x/D

Source   plate: Heywood 1988, section 7.6, area of the throttle with a thin spindle (from memory); loss: Weisbach's
         table (`obstacle_losses.butterfly_loss`) up to 70 degrees from wide open, nearer to shut the contracted jet
         of the open area (`area_losses.jet_loss`), tied to the table at 70 degrees. Slide: circle geometry, loss of
         the contracted jet.
Holds    high Reynolds number; the spindle is counted with the body, not here.
"""

from __future__ import annotations

import math

from pulsewright.physics.area_losses import jet_loss
from pulsewright.physics.compiled import scalar
from pulsewright.physics.obstacle_losses import butterfly_loss

TABLE_ENDS = 70.0  # [deg] from wide open, last row of the table
LEAK = 1e-3  # [-] of the bore that stays open round a shut plate or slide, assumed


@scalar
def plate_open_fraction(from_open_deg: float, closed_deg: float) -> float:
    """Open area over bore area; degrees from wide open, and from the cross-section where the plate shuts. [-]"""
    psi = math.radians(90.0 - from_open_deg)
    return max(1.0 - math.cos(psi) / math.cos(math.radians(closed_deg)), LEAK)


@scalar
def plate_angle(opening: float, closed_deg: float) -> float:
    """Degrees from wide open of a plate that has gone a share of its way from shut to wide open. [deg]"""
    return (1.0 - opening) * (90.0 - closed_deg)


@scalar
def throttle_plate_loss(opening: float, closed_deg: float) -> float:
    """Loss of a butterfly over that of the same one wide open, on the bore's velocity; share of its way. [-]

    The table is of plates that shut square to the bore: it is read where such a plate leaves the same area open.
    """
    open_fraction = min(plate_open_fraction(plate_angle(opening, closed_deg), closed_deg), 1.0)
    square = 90.0 - math.degrees(math.acos(1.0 - open_fraction))
    at_table = butterfly_loss(min(square, TABLE_ENDS))[1]
    wide_open = butterfly_loss(0.0)[1]
    if square <= TABLE_ENDS:
        return at_table - wide_open
    return at_table * jet_loss(open_fraction) / jet_loss(plate_open_fraction(TABLE_ENDS, 0.0)) - wide_open


@scalar
def slide_area(lift: float, bore: float) -> float:
    """Area under a slide lifted by `lift` [m] in a round bore [m]. [m²]"""
    share = min(max(lift / bore, 0.0), 1.0)
    theta = math.acos(1.0 - 2.0 * share)
    whole = 0.25 * math.pi * bore * bore
    return max(0.25 * bore * bore * (theta - math.sin(theta) * math.cos(theta)), LEAK * whole)


@scalar
def slide_loss(lift: float, bore: float) -> float:
    """Loss under a slide on the bore's velocity; none where it is fully raised. [-]"""
    open_fraction = slide_area(lift, bore) / (0.25 * math.pi * bore * bore)
    return jet_loss(min(open_fraction, 1.0))
