r"""Sound radiated from the open end of a pipe: a mass beside a resistance.

.. math:: \frac{Z}{\rho c} = \left(\frac{1}{r} + \frac{1}{\mathrm{i}\,ka\,\delta}\right)^{-1}
          \approx \mathrm{i}\,ka\,\delta + \frac{(ka\,\delta)^2}{r}

The resistance r is chosen so that the real part has its exact low-frequency limit: (ka)^2/4 for the
unflanged pipe (sound goes into the full sphere) and (ka)^2/2 for the flanged one (half sphere).

Source   unflanged: Levine & Schwinger, Phys. Rev. 73 (1948) 383 (end correction 0.6133 radii, read
         in the abstract); flanged: Nomura, Yamamura & Inawashiro, J. Phys. Soc. Japan 15 (1960) 510
         (0.8216 radii, from memory, confirmed by a modal calculation).
Holds    plane waves, no mean flow; magnitude and end correction within 3 % up to ka = 0.5.
Not for  the jet loss of strong outflow (the end itself does that) or ka above 1.
"""

from __future__ import annotations

import cmath

from pulsewright.physics.compiled import scalar

END_CORRECTION_UNFLANGED = 0.6133  # [radii]
END_CORRECTION_FLANGED = 0.8216  # [radii]


@scalar
def radiation(flanged: bool) -> tuple[float, float]:
    """Resistance over rho c [-] and end correction over radius [-] of an open end.

    The end carries a mass rho * area * end correction in parallel with resistance * rho * c / area.
    """
    if flanged:
        return 2.0 * END_CORRECTION_FLANGED**2, END_CORRECTION_FLANGED
    return 4.0 * END_CORRECTION_UNFLANGED**2, END_CORRECTION_UNFLANGED


def impedance(ka: float, flanged: bool = False) -> complex:
    """Radiation impedance over rho c of the mass and resistance, time factor exp(+i omega t). [-]"""
    resistance, correction = radiation(flanged)
    mass = 1j * ka * correction
    return resistance * mass / (resistance + mass)


def reflection(ka: float, flanged: bool = False) -> tuple[float, float]:
    """Magnitude of the pressure reflection [-] and effective end correction in radii [-] at `ka` > 0."""
    z = impedance(ka, flanged)
    factor = (z - 1.0) / (z + 1.0)
    return abs(factor), -cmath.phase(-factor) / (2.0 * ka)
