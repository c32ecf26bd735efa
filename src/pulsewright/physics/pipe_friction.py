r"""Wall friction of flow in a pipe, as the Darcy factor f: dp/dx = -f rho u abs(u) / (2 D).

.. math:: \frac{1}{\sqrt f} = -1.8 \log_{10}\left[\left(\frac{\varepsilon/D}{3.7}\right)^{1.11}
          + \frac{6.9}{Re}\right]

Source   Haaland, J. Fluids Eng. 105 (1983) 89 (turbulent); Hagen-Poiseuille 64/Re (laminar).
Holds    steady flow, Re up to 1e8, relative roughness up to 0.05, within 2 % of Colebrook.
         Between Re 2000 and 4000 the two are joined by a straight line (no published meaning).
Not for  the extra loss of fast oscillation or of bends (obstacle_losses.py).
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

LAMINAR_UP_TO = 2000.0
TURBULENT_FROM = 4000.0


@scalar
def turbulent_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor after Haaland; relative roughness = height / bore. [-]"""
    term = (relative_roughness / 3.7) ** 1.11 + 6.9 / reynolds
    root = -1.8 * math.log10(term)
    return 1.0 / (root * root)


@scalar
def darcy_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor, laminar to turbulent; gas at rest counts as Re 1. [-]"""
    laminar = 64.0 / max(reynolds, 1.0)
    turbulent = turbulent_factor(max(reynolds, TURBULENT_FROM), relative_roughness)
    share = (reynolds - LAMINAR_UP_TO) / (TURBULENT_FROM - LAMINAR_UP_TO)
    share = min(max(share, 0.0), 1.0)
    slow = max(laminar, 64.0 / LAMINAR_UP_TO)
    return (1.0 - share) * slow + share * turbulent
