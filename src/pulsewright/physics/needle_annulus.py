r"""The ring between a needle and its jet.

.. math:: A = \frac{\pi}{4}(d_j^2 - d_n^2), \qquad d_n(z) = d_0 - 2 \tan(\alpha/2)\, \max(z - l_0, 0)

Source   geometry of a cone in a hole; alpha is the whole angle of the taper.
Not for  needles of several tapers, or so far out of their middle that the ring is no ring.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar


@scalar
def needle_diameter(raised: float, straight: float, diameter: float, slope: float) -> float:
    """Diameter where the needle stands in the rim of its jet, at least none. [m]

    raised : needle above its lowest place [m]; straight : length of its straight part that is then still above the
    rim [m]; diameter : of the straight part [m]; slope : loss of diameter over length on the taper [-].
    """
    return max(diameter - slope * max(raised - straight, 0.0), 0.0)


@scalar
def needle_annulus(jet: float, needle: float) -> float:
    """Open area between a jet's bore and a needle in it, both as diameters [m]. [m²]"""
    return 0.25 * math.pi * max(jet * jet - needle * needle, 0.0)
