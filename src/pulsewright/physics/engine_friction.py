r"""Mean pressure lost to friction and auxiliaries.

.. math:: \mathrm{FMEP} = 0.137 + 0.005\,p_{max} + 0.162\,S_p \quad\text{[bar, bar, m/s]}
.. math:: \mathrm{TMEP} = 0.97 + 0.15\,n + 0.05\,n^2 \quad\text{[bar], n = rpm/1000}

Source   Chen & Flynn, SAE 650733 (1965), a single-cylinder diesel; Barnes-Moss 1975, motored car
         engines with pumping. Constants from memory.
Holds    +/-25 % between engines: only trends can be tested. Chen-Flynn is high for small SI engines.
"""

from __future__ import annotations

from pulsewright.physics.compiled import scalar


@scalar
def chen_flynn(peak_pressure: float, piston_speed: float) -> float:
    """Friction mean effective pressure. [Pa], peak cylinder pressure [Pa], mean piston speed [m/s]"""
    return 1e5 * (0.137 + 0.005 * peak_pressure * 1e-5 + 0.162 * piston_speed)


@scalar
def barnes_moss(rpm: float) -> float:
    """Total motored mean effective pressure, pumping included. [Pa]"""
    n = rpm * 1e-3
    return 1e5 * (0.97 + 0.15 * n + 0.05 * n * n)
