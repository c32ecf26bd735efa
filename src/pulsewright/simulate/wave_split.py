r"""Splits a pressure record into the wave that runs one way and the wave that runs the other.

Waves of finite height: with the gas at rest at the reference pressure as the state between them, the
Riemann variables of a place are

.. math:: X_\pm = 1 + \tfrac{1}{2}(X - 1) \pm \frac{\gamma - 1}{4} \frac{u - u_0}{a_0} , \qquad
          X = (p/p_0)^{(\gamma - 1)/2\gamma} = a/a_0, \qquad p_\pm = p_0 X_\pm^{2\gamma/(\gamma - 1)}

A wave that runs one way into gas at rest has the other variable at 1 exactly, whatever its height; small
waves add up, :math:`p_\pm - p_0 = (p' \pm \rho a u')/2`.

Source   S. Earnshaw, Phil. Trans. R. Soc. 150 (1860) 133 (the single wave); the split of two waves by
         Riemann variables as in R. S. Benson, The Thermodynamics and Gas Dynamics of Internal-Combustion
         Engines, vol. 1 (1982), from memory.
Holds    one gas of even entropy. Where hot gas lies beside cold, the local sound speed is taken, and what
         such a border itself throws back counts to the wave that runs back.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def split_waves(
    pressure: Floats,
    speed: Floats,
    sound: Floats,
    gamma: Floats | float,
    rest: float,
    mean_speed: Floats | float = 0.0,
) -> tuple[Floats, Floats]:
    """Wave that runs towards growing places, and wave that runs back. [Pa] above `rest`, same shape.

    pressure [Pa], speed [m/s] and sound [m/s] at the same moments and places; rest : pressure of the gas
    between the waves [Pa]; mean_speed : its speed [m/s], 0 where the duct ends in the open.
    """
    half = 0.5 * (gamma - 1.0)
    power = half / gamma
    level = (pressure / rest) ** power
    drift = half * (speed - mean_speed) * level / sound
    out = (0.5 * (1.0 + level + drift)) ** (1.0 / power)
    back = (0.5 * (1.0 + level - drift)) ** (1.0 / power)
    return rest * (out - 1.0), rest * (back - 1.0)
