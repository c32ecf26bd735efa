r"""Heat from pulsating gas to a pipe wall, and from the pipe to the shop air.

Gas side, two published forms:

.. math:: Nu = 0.0718\,Re^{0.75} \quad\text{(engine pipes)}, \qquad
          Nu = \tfrac{f}{8} Re\,Pr^{1/3} \quad\text{(analogy)}

Source   Depcik & Assanis, SAE 2002-01-0372 (from memory); Colburn, Trans. AIChE 29 (1933) 174;
         outside: Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049 (still air, horizontal
         cylinder); Churchill & Bernstein, J. Heat Transfer 99 (1977) 300 (cross flow).
Holds    +/-30 % at best: pulsation, bends and entry raise the gas side.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar
from pulsewright.physics.viscosity import PRANDTL_AIR, conductivity, viscosity

STEFAN_BOLTZMANN = 5.670374e-8  # [W/(m2 K4)] CODATA 2018
GRAVITY = 9.80665  # [m/s2] standard
R_AIR = 287.05  # [J/(kg K)]
CP_AIR = 1006.0  # [J/(kg K)] near 350 K


@scalar
def nusselt(reynolds: float) -> float:
    """Nusselt number of pulsating flow in engine pipes (Depcik & Assanis); never under laminar 3.66."""
    return max(0.0718 * max(reynolds, 0.0) ** 0.75, 3.66)


@scalar
def nusselt_analogy(reynolds: float, prandtl: float, darcy: float) -> float:
    """Nusselt number from the Darcy friction factor (Colburn's analogy). [-]"""
    return max(0.125 * darcy * reynolds * prandtl ** (1.0 / 3.0), 3.66)


@scalar
def film_air(pressure: float, temperature: float) -> tuple[float, float, float]:
    """Density [kg/m3], viscosity [Pa s] and conductivity [W/(m K)] of air at the film temperature."""
    density = pressure / (R_AIR * temperature)
    return density, viscosity(temperature), conductivity(temperature, CP_AIR, PRANDTL_AIR)


@scalar
def natural_convection(diameter: float, skin: float, ambient: float, pressure: float) -> float:
    """Coefficient of still air round a horizontal pipe (Churchill & Chu). [W/(m2 K)]

    diameter outside [m], skin and ambient temperature [K], pressure [Pa].
    """
    film = 0.5 * (skin + ambient)
    density, mu, lam = film_air(pressure, film)
    buoyancy = GRAVITY * abs(skin - ambient) / film * diameter**3
    rayleigh = buoyancy * density * density / (mu * mu) * PRANDTL_AIR
    shape = (1.0 + (0.559 / PRANDTL_AIR) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    root = 0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / shape
    return root * root * lam / diameter


@scalar
def cross_flow_convection(diameter: float, skin: float, ambient: float, pressure: float, wind: float) -> float:
    """Coefficient of wind [m/s] across a pipe (Churchill & Bernstein). [W/(m2 K)]"""
    film = 0.5 * (skin + ambient)
    density, mu, lam = film_air(pressure, film)
    re = density * abs(wind) * diameter / mu
    base = 0.62 * math.sqrt(re) * PRANDTL_AIR ** (1.0 / 3.0)
    base /= (1.0 + (0.4 / PRANDTL_AIR) ** (2.0 / 3.0)) ** 0.25
    nu = 0.3 + base * (1.0 + (re / 282000.0) ** 0.625) ** 0.8
    return nu * lam / diameter


@scalar
def radiation_coefficient(emissivity: float, hot: float, cold: float) -> float:
    """Radiation between a small body and its surroundings as a coefficient. [W/(m2 K)], K"""
    return emissivity * STEFAN_BOLTZMANN * (hot * hot + cold * cold) * (hot + cold)


@scalar
def outside_coefficient(
    diameter: float, skin: float, ambient: float, pressure: float, wind: float, emissivity: float
) -> float:
    """Whole coefficient from the skin to the shop: the stronger convection, and radiation. [W/(m2 K)]"""
    still = natural_convection(diameter, skin, ambient, pressure)
    blown = cross_flow_convection(diameter, skin, ambient, pressure, wind)
    return max(still, blown) + radiation_coefficient(emissivity, skin, ambient)
