r"""Pressure in a venturi's throat.

.. math:: \dot m = C_d A \frac{p_0}{\sqrt{R T_0}}
          \sqrt{\frac{2\gamma}{\gamma-1}\left(r^{2/\gamma} - r^{(\gamma+1)/\gamma}\right)},
          \quad r = p/p_0

Source   isentropic nozzle flow; any text, e.g. Heywood 1988, sect. 7.3.
Holds    quasi-steady, up to choking. Against the incompressible form the air flow is 5.4 % less at
         10 kPa of depression.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

NEVER_CHOKES = 0.5  # [-] drive up to which no throat chokes: at least 0.56 for gamma up to 5/3
FIRST_MACH = 0.9  # at most, from where Newton begins; the flow has no slope at 1


@scalar
def venturi_air_flow(cd_area: float, p0: float, t0: float, depression: float, gamma: float, r: float) -> float:
    """Mass flow that goes with a throat depression below stagnation. [kg/s]

    cd_area : discharge coefficient times throat area [m2]; p0, t0 : stagnation [Pa], [K];
    depression [Pa], held at choking; gamma [-], r : gas constant [J/(kg K)].
    """
    critical = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))
    ratio = max(1.0 - max(depression, 0.0) / p0, critical)
    drive = ratio ** (2.0 / gamma) - ratio ** ((gamma + 1.0) / gamma)
    return cd_area * p0 * math.sqrt(2.0 * gamma / (gamma - 1.0) * max(drive, 0.0) / (r * t0))


@scalar
def throat_ratio(drive: float, warm_before: float, gamma: float) -> float:
    """Static pressure in a throat over that of the gas before it, at least that of choking. [-]

    drive : Mach number of the throat if the gas on its way there kept its density and its speed of sound.
    warm_before : 1 + (gamma - 1)/2 M^2 of the gas before it, 1 at rest.
    Solved for the throat's Mach number M, whose own such number is W, by Newton's method on
    M (warm_before / W)^power = drive.
    """
    power = 0.5 * (gamma + 1.0) / (gamma - 1.0)
    if drive >= NEVER_CHOKES:
        cooler = warm_before / (0.5 * (gamma + 1.0))
        if drive >= cooler**power:
            return cooler ** (gamma / (gamma - 1.0))
    # three terms of the inverse's series, and two of the power of warm_before
    more = warm_before - 1.0
    target = drive * (1.0 - power * more * (1.0 - 0.5 * (power + 1.0) * more))
    second = 0.25 * (gamma + 1.0)
    third = 2.5 * second * second - 0.25 * (gamma - 1.0) * second
    mach = min(target * (1.0 + target * target * (second + third * target * target)), FIRST_MACH)
    ratio = 1.0
    for _ in range(30):
        per_warm = 1.0 / (1.0 + 0.5 * (gamma - 1.0) * mach * mach)
        cooler = warm_before * per_warm
        thinned = math.exp(power * math.log(cooler))
        slope = thinned * (1.0 - mach * mach) * per_warm
        step = min((drive - mach * thinned) / max(slope, 1e-12), 1.0 - mach)
        # the step goes into the ratio in first order; what both leave is about its square, more near Mach 1
        ratio = thinned * math.sqrt(cooler) * (1.0 - gamma * mach * step * per_warm)
        mach += step
        if abs(step) < 1e-5 * (1.0 - mach):
            break
    return ratio


@scalar
def venturi_depression(mass_flow: float, cd_area: float, p0: float, t0: float, gamma: float, r: float) -> float:
    """Depression below stagnation that a mass flow needs, at most that of choking; whatever its direction. [Pa]"""
    drive = abs(mass_flow) / (cd_area * p0) * math.sqrt(r * t0 / gamma)
    return p0 * (1.0 - throat_ratio(drive, 1.0, gamma))


@scalar
def throat_depression(pressure: float, density: float, speed: float, area_ratio: float, gamma: float) -> float:
    """Depression in a throat below the local static pressure of the duct it sits in. [Pa]

    pressure [Pa], density [kg/m3], speed [m/s, any sign] where the duct has area A;
    area_ratio = effective throat area / A, at most 1. Isentropic, held at choking.
    """
    mach2 = speed * speed * density / (gamma * pressure)
    warm = 1.0 + 0.5 * (gamma - 1.0) * mach2
    return pressure * (1.0 - throat_ratio(math.sqrt(mach2) / area_ratio, warm, gamma))
