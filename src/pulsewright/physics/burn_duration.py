r"""Duration of the burn, scaled from a stated point.

.. math:: \Delta\theta = \Delta\theta_0 \left(\frac{N}{N_0}\right)^{1/3}
          \left(\frac{S_0}{S}\right)^{2/3}

Turbulence in the chamber grows with speed, so angle grows only with the cube root; a slower laminar
flame stretches the burn.

Source   scaling after Hires, Tabaczynski & Novak, SAE 780232 (1978), with kinematic viscosity and
         chamber height kept (from memory). The reference point below is assumed, not published.
Holds    trends with lambda, residual gas, speed; not the level, which belongs to one chamber.
"""

from __future__ import annotations

from pulsewright.physics.compiled import scalar

# Assumed reference: 0 to 99.9 % in 60 degrees (10-90 % in 27, inside the usual 20-40) at 3000 rpm,
# lambda 0.87, 5 % residual gas, unburned 720 K and 15 bar at spark.
REFERENCE_DURATION_DEG = 60.0
REFERENCE_RPM = 3000.0
REFERENCE_PHI = 1.15
REFERENCE_TEMPERATURE = 720.0  # [K]
REFERENCE_PRESSURE = 15.0e5  # [Pa]
REFERENCE_RESIDUAL = 0.05  # [-] mole fraction
LONGEST_DEG = 250.0  # beyond this a cycle is a misfire


@scalar
def burn_duration(
    reference_deg: float, rpm: float, reference_rpm: float, flame_speed: float, reference_speed: float
) -> float:
    """Crank angle of the whole burn, at most LONGEST_DEG. [deg]; flame speeds laminar [m/s]"""
    speed = (max(rpm, 1.0) / reference_rpm) ** (1.0 / 3.0)
    flame = (reference_speed / max(flame_speed, 1e-4)) ** (2.0 / 3.0)
    return min(reference_deg * speed * flame, LONGEST_DEG)
