r"""Time to self-ignition of the end gas.

.. math:: \tau = 17.68\,(ON/100)^{3.402}\,p^{-1.7} e^{3800/T} \quad\text{[ms, atm, K]}

Knock where the integral of dt/tau reaches 1 (Livengood & Wu, 5th Symp. Combust. 1955, 347).

Source   Douaud & Eyzat, SAE 780080 (1978); constants from memory.
Holds    +/-30 % in tau: use for trends. Lambda is not in it.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

ATMOSPHERE = 101325.0  # [Pa]


@scalar
def autoignition_delay(octane: float, pressure: float, temperature: float) -> float:
    """Delay to self-ignition. [s]; octane number, pressure [Pa], unburned temperature [K]"""
    atmospheres = max(pressure, 1.0) / ATMOSPHERE
    # one exponential in place of two powers and one, in every step of a burn
    return 17.68e-3 * math.exp(3.402 * math.log(octane / 100.0) - 1.7 * math.log(atmospheres) + 3800.0 / temperature)
