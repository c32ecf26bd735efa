r"""Density of a gas that leaves a vessel at the speed of sound, over its density inside.

.. math:: \left(\frac{2}{\gamma + 1}\right)^{1 / (\gamma - 1)}

Source   St. Venant & Wantzel 1839, as in any textbook of gas dynamics.
Holds    for 1 <= gamma <= 1.7 to 2e-15: a series in gamma, by its values at Chebyshev's points, in place of a
         logarithm and an exponential, since every passage asks for it in every step.
"""

from __future__ import annotations

from pulsewright.physics.compiled import scalar

MIDDLE = 1.35
A = (0.6308001816100799, 0.06350215161658634, -0.015061701279638748, 0.004143859007480277)
B = (-0.0012450285215539288, 0.0003967246017890939, -0.00013185719033411558, 4.523626261846955e-05)
C = (-1.589088159363433e-05, 5.691895891356068e-06, -2.189383858901476e-06, 8.312917754615634e-07)


@scalar
def sonic_density(gamma):
    """Of a gas of this gamma. [-]"""
    t = gamma - MIDDLE
    t2 = t * t
    t4 = t2 * t2
    low = (A[0] + A[1] * t) + t2 * (A[2] + A[3] * t)
    middle = (B[0] + B[1] * t) + t2 * (B[2] + B[3] * t)
    high = (C[0] + C[1] * t) + t2 * (C[2] + C[3] * t)
    return low + t4 * (middle + t4 * high)
