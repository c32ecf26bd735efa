r"""Logarithm and exponential that a loop takes for many numbers at once.

The library's own are calls, one number each. These are a few products and one division, folded into the loop, so
that a processor does as many of them side by side as its registers hold.

.. math:: \ln x = k \ln 2 + 2 \operatorname{artanh} \frac{m-1}{m+1}, \quad x = 2^k m, \quad
          e^x = 2^k e^r, \quad r = x - k \ln 2

Source   both by their Taylor series: artanh on \|s\| < 0.172, e^r on \|r\| < 0.347, to below the rounding.
Holds    positive, finite, normal numbers; exponents from -700 to 700. A few units in the last place.
"""

from __future__ import annotations

import numpy as np

from pulsewright.physics.compiled import scalar

HALF_ROOT = 0x3FE6A09E667F3BCD  # bits of the square root of one half: m lies between it and its double
FRACTION_BITS, BIAS = 52, 1023
LN_2 = 0.6931471805599453
LN_2_HIGH, LN_2_LOW = 0.6931471803691238, 1.9082149292705877e-10  # k times the first has no rounding
ROUNDING = 6755399441055744.0  # 1.5 * 2^52: what is added to it is rounded to a whole number in its last bits
ROUNDING_BITS = 0x4338000000000000
MOST_EXPONENT = 700.0


@scalar
def packed_log(x):
    """Natural logarithm of a positive number."""
    bits = np.float64(x).view(np.int64)
    exponent = (bits - HALF_ROOT) >> FRACTION_BITS
    k = np.int64(exponent + ROUNDING_BITS).view(np.float64) - ROUNDING  # a conversion is not packed everywhere
    m = np.int64(bits - (exponent << FRACTION_BITS)).view(np.float64)
    s = (m - 1.0) / (m + 1.0)
    z = s * s
    z2 = z * z
    low = (1.0 / 3.0 + z * (1.0 / 5.0)) + z2 * (1.0 / 7.0 + z * (1.0 / 9.0))
    high = (
        (1.0 / 11.0 + z * (1.0 / 13.0))
        + z2 * (1.0 / 15.0 + z * (1.0 / 17.0))
        + z2 * z2 * (1.0 / 19.0 + z * (1.0 / 21.0))
    )
    return k * LN_2 + 2.0 * s + 2.0 * s * z * (low + z2 * z2 * high)


@scalar
def packed_exp(x):
    """e to the power of a number between -700 and 700."""
    shifted = x * (1.0 / LN_2) + ROUNDING
    whole = np.float64(shifted).view(np.int64) - ROUNDING_BITS
    k = shifted - ROUNDING
    r = (x - k * LN_2_HIGH) - k * LN_2_LOW
    r2 = r * r
    r4 = r2 * r2
    low = (1.0 + r) + r2 * (1.0 / 2.0 + r * (1.0 / 6.0))
    middle = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5040.0))
    high = (1.0 / 40320.0 + r * (1.0 / 362880.0)) + r2 * (1.0 / 3628800.0 + r * (1.0 / 39916800.0))
    top = 1.0 / 479001600.0 + r * (1.0 / 6227020800.0)
    two_to_k = np.int64((whole + BIAS) << FRACTION_BITS).view(np.float64)
    return (low + r4 * (middle + r4 * (high + r4 * top))) * two_to_k
