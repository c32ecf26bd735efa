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
def venturi_depression(mass_flow: float, cd_area: float, p0: float, t0: float, gamma: float, r: float) -> float:
    """Depression below stagnation that a mass flow needs, at most that of choking. [Pa]

    Solved for the throat Mach number by Newton's method; the flow's direction does not matter.
    """
    power = 0.5 * (gamma + 1.0) / (gamma - 1.0)
    target = abs(mass_flow) / (cd_area * p0) * math.sqrt(r * t0 / gamma)
    top = (0.5 * (gamma + 1.0)) ** -power  # at Mach 1
    if target >= top:
        return p0 * (1.0 - (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0)))
    # M (1 + (g-1)/2 M^2)^-power = target; three terms of the inverse's series: left of the root, where it is concave
    second = 0.25 * (gamma + 1.0)
    third = 2.5 * second * second - 0.25 * (gamma - 1.0) * second
    mach = target * (1.0 + target * target * (second + third * target * target))
    ratio = 1.0  # of the static pressure
    for _ in range(30):
        warm = 1.0 + 0.5 * (gamma - 1.0) * mach * mach
        per_warm = 1.0 / warm
        thinned = math.exp(-power * math.log(warm))
        slope = thinned * (1.0 - mach * mach) * per_warm
        step = min((target - mach * thinned) / max(slope, 1e-12), 1.0 - mach)
        # the step goes into the ratio in first order; what both leave is about its square, more near Mach 1
        ratio = thinned * math.sqrt(per_warm) * (1.0 - gamma * mach * step * per_warm)
        mach += step
        if abs(step) < 1e-5 * (1.0 - mach):
            break
    return p0 * (1.0 - ratio)


@scalar
def throat_depression(pressure: float, density: float, speed: float, area_ratio: float, gamma: float) -> float:
    """Depression in a throat below the local static pressure of the duct it sits in. [Pa]

    pressure [Pa], density [kg/m3], speed [m/s, any sign] where the duct has area A;
    area_ratio = effective throat area / A, at most 1. Isentropic, held at choking.
    """
    sound2 = gamma * pressure / density
    mach2 = speed * speed / sound2
    warm = 1.0 + 0.5 * (gamma - 1.0) * mach2
    p0 = pressure * math.exp(gamma / (gamma - 1.0) * math.log(warm))
    rt0 = pressure / density * warm
    below = venturi_depression(density * speed, area_ratio, p0, rt0, gamma, 1.0)
    return below - (p0 - pressure)
