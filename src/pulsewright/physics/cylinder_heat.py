r"""Heat from the gas to the cylinder walls.

.. math:: h = 3.26\,B^{-0.2} p^{0.8} T^{-0.55} w^{0.8} \quad (B\,m,\ p\,kPa,\ T\,K,\ w\,m/s)
.. math:: w = C_1 S_p + C_2 \frac{V_d T_r}{p_r V_r}(p - p_m)

Source   Woschni, SAE 670931 (1967), form as in Heywood 1988 ch. 12; Annand, Proc. IMechE 177 (1963);
         Hohenberg, SAE 790825. Constants: C1 read in course notes, all others from memory.
Holds    +/-30 %; the three disagree by as much.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

C1_GAS_EXCHANGE = 6.18  # [-]
C1_CLOSED = 2.28  # [-]
C2_COMBUSTION = 3.24e-3  # [m/(s K)]
LEAST_DRIVE = 1e-9  # [kPa m/s] below which gas is at rest, and a power of it too small a number
STEFAN_BOLTZMANN = 5.670374e-8  # [W/(m2 K4)]


@scalar
def woschni_speed(
    c1: float,
    piston_speed: float,
    swept: float,
    volume_ref: float,
    temperature_ref: float,
    pressure_ref: float,
    firing_rise: float,
) -> float:
    """Gas speed w of Woschni's form. [m/s]

    c1 : C1_GAS_EXCHANGE or C1_CLOSED; piston_speed mean [m/s]; swept [m3];
    state at intake closing: volume_ref [m3], temperature_ref [K], pressure_ref [Pa];
    firing_rise : pressure above the motored pressure [Pa], 0 before combustion.
    """
    scale = swept * temperature_ref / (pressure_ref * volume_ref)
    return c1 * piston_speed + C2_COMBUSTION * scale * max(firing_rise, 0.0)


@scalar
def woschni(bore: float, pressure: float, temperature: float, gas_speed: float) -> float:
    """Heat transfer coefficient after Woschni. [W/(m2 K)], bore [m], pressure [Pa], [K], [m/s]"""
    drive = 1e-3 * pressure * gas_speed
    if drive < LEAST_DRIVE:
        return 0.0
    # the twentieth root of whole powers: one logarithm where a sum of three would take three, in every step of a march
    whole = drive**16 / (temperature**11 * bore**4)
    return 3.26 * math.exp(0.05 * math.log(whole))


@scalar
def annand_convection(
    a: float, density: float, piston_speed: float, bore: float, viscosity: float, conductivity: float
) -> float:
    """Convective coefficient after Annand, a = 0.35 to 0.8, Re^0.7. [W/(m2 K)]"""
    re = density * piston_speed * bore / viscosity
    return a * conductivity / bore * re**0.7


@scalar
def annand_radiation(temperature: float, wall: float) -> float:
    """Radiation term of Annand for spark ignition, as a coefficient. [W/(m2 K)]"""
    return 0.075 * STEFAN_BOLTZMANN * (temperature**2 + wall**2) * (temperature + wall)


@scalar
def hohenberg(volume: float, pressure: float, temperature: float, piston_speed: float) -> float:
    """Coefficient after Hohenberg. [W/(m2 K)], volume [m3], pressure [Pa]"""
    bar = pressure * 1e-5
    return 130.0 * volume**-0.06 * bar**0.8 * temperature**-0.4 * (piston_speed + 1.4) ** 0.8
