r"""Viscosity and heat conduction of air and exhaust gas.

.. math:: \mu = \mu_{\mathrm{ref}} \left(\frac{T}{T_{\mathrm{ref}}}\right)^{3/2}
          \frac{T_{\mathrm{ref}} + S}{T + S}

Source   Sutherland, Phil. Mag. 36 (1893) 507; the two constants are those of the ICAO standard
         atmosphere, Doc 7488 (beta_s = 1.458e-6 kg/(m s K^0.5), S = 110.4 K).
Holds    air 200 to 1500 K within 3 %. Exhaust gas is treated as air (Heywood 1988, sect. 4.8: burned
         gas lies within a few per cent of air; from memory).
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

BETA = 1.458e-6  # [kg/(m s K^0.5)]
SUTHERLAND = 110.4  # [K]
PRANDTL_AIR = 0.71  # [-] 300 K, falls to 0.68 and rises again; common value
PRANDTL_EXHAUST = 0.73  # [-] about, 600 to 1400 K (from memory)


@scalar
def viscosity(temperature: float) -> float:
    """Dynamic viscosity of air or exhaust gas. [Pa s], temperature in [K]"""
    return BETA * temperature * math.sqrt(temperature) / (temperature + SUTHERLAND)


@scalar
def conductivity(temperature: float, cp: float, prandtl: float) -> float:
    """Heat conductivity from viscosity, heat capacity [J/(kg K)] and Prandtl number. [W/(m K)]"""
    return viscosity(temperature) * cp / prandtl
