"""Heat capacities of single species: NASA seven-coefficient polynomials.

Source   B. J. McBride, S. Gordon and M. A. Reno, NASA TM-4513 (1993), form cp/R = a1 + a2 T + ... + a5 T^4,
         one set below and one above 1000 K.
Holds    200 to 6000 K, ideal gas.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

UNIVERSAL_GAS_CONSTANT = 8.31446261815324  # [J/(mol K)], exact by the SI of 2019

# [kg/mol]
MOLAR_MASS: dict[str, float] = {
    "N2": 0.028014,
    "O2": 0.031998,
    "Ar": 0.03995,
    "CO2": 0.044009,
    "H2O": 0.018015,
    "CO": 0.02801,
    "H2": 0.002016,
    "C8H18": 0.114232,
    "C2H6O": 0.046069,
}

_COEFFICIENTS: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "N2": (
        (3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12),
        (2.95257626, 1.39690057e-3, -4.92631691e-7, 7.86010367e-11, -4.60755321e-15),
    ),
    "O2": (
        (3.78245636, -2.99673415e-3, 9.847302e-6, -9.68129508e-9, 3.24372836e-12),
        (3.66096083, 6.56365523e-4, -1.41149485e-7, 2.05797658e-11, -1.29913248e-15),
    ),
    "Ar": ((2.5, 0.0, 0.0, 0.0, 0.0), (2.5, 0.0, 0.0, 0.0, 0.0)),
    "CO2": (
        (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13),
        (4.63659493, 2.74131991e-3, -9.95828531e-7, 1.60373011e-10, -9.16103468e-15),
    ),
    "H2O": (
        (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12),
        (2.67703787, 2.97318329e-3, -7.7376969e-7, 9.44336689e-11, -4.26900959e-15),
    ),
    "CO": (
        (3.57953347, -6.1035368e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13),
        (3.04848583, 1.35172818e-3, -4.85794075e-7, 7.88536486e-11, -4.69807489e-15),
    ),
    "H2": (
        (2.34433112, 7.98052075e-3, -1.9478151e-5, 2.01572094e-8, -7.37611761e-12),
        (2.93286579, 8.26607967e-4, -1.46402335e-7, 1.54100359e-11, -6.88804432e-16),
    ),
    "C8H18": (
        (0.815737338, 7.32643959e-2, 1.78300688e-5, -6.9358962e-8, 3.21629382e-11),
        (15.9899273, 5.5318479e-2, -1.95267072e-5, 3.11779172e-9, -1.85312577e-13),
    ),
    "C2H6O": (
        (4.85868178, -3.7400674e-3, 6.95550267e-5, -8.86541147e-8, 3.5168443e-11),
        (6.5628977, 1.52034264e-2, -5.38922247e-6, 8.62150224e-10, -5.12824683e-14),
    ),
}


def molar_heat_capacity(species: str, temperature: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """cp of one species over `temperature` [K], any shape. [J/(mol K)]"""
    t = np.asarray(temperature, dtype=np.float64)
    low, high = _COEFFICIENTS[species]
    below = np.polynomial.polynomial.polyval(t, low)
    above = np.polynomial.polynomial.polyval(t, high)
    return UNIVERSAL_GAS_CONSTANT * np.where(t < 1000.0, below, above)
