r"""Band that holds a whole curve: critical value over a stretch of engine speeds instead of at one speed.

.. math:: P(\sup |T| > u) \approx 2 \left[ P(t_\nu > u)
          + \frac{\tau}{2\pi} \left(1 + \frac{u^2}{\nu}\right)^{-(\nu - 1)/2} \right]

Source   Kac-Rice formula, in the Gaussian kinematic form for t processes: F. Telschow & A. Schwartzman,
         arXiv 1901.06386; D. Liebl & M. Reimherr, arXiv 1910.00131. Expected count of upcrossings, so an
         upper bound, and close to exact for a small error probability.
tau      length of the path that the standardised curve runs on the unit sphere; between two bins of
         correlation r it is arccos(r), the arc of a straight line between them.
Bins     where noise of neighbouring bins is nearly independent the arc overstates what the bins do; the
         smaller of this and Bonferroni's bound over the bins is taken (both hold).
Clusters where curves differ mostly by something that all speeds share, crossings come in bunches and the
         formula counts each: such a band holds in 0.98 of sessions instead of 0.95. Where level and shape come
         together, curves are therefore drawn (t_curves) and counted.
Not for  curves whose scatter is far from Gaussian.
"""

from __future__ import annotations

import math

import numpy as np

LEVEL = 0.95
_LARGEST = 1e6  # beyond it a critical value says nothing


def critical_value(tau: float, freedom: float, *, level: float = LEVEL, bins: int | None = None) -> float:
    """Half-width of the two-sided simultaneous band in standard deviations. [-]

    tau : roughness of the curve over the stretch [-]. freedom : degrees of freedom of the standard
    deviation, may be infinite. bins : number of bins for Bonferroni's bound; none: the curve between bins
    counts too.
    """
    from scipy.optimize import brentq

    error = 1.0 - level
    lowest = t_quantile(error / 2.0, freedom)
    highest = lowest
    while exceedance(highest, tau, freedom) > error and highest < _LARGEST:
        highest *= 2.0
    found = brentq(lambda u: exceedance(u, tau, freedom) - error, lowest, highest, xtol=1e-10)
    kac_rice = float(found) if highest > lowest else lowest  # type: ignore[arg-type]
    return kac_rice if bins is None else min(kac_rice, t_quantile(error / (2.0 * bins), freedom))


def exceedance(u: float, tau: float, freedom: float) -> float:
    """Probability that the standardised curve leaves -u to u somewhere, at most. [-]"""
    from scipy.special import ndtr, stdtr

    if math.isinf(freedom):
        above, fall = float(ndtr(-u)), math.exp(-0.5 * u * u)
    else:
        above = float(stdtr(freedom, -u))
        fall = (1.0 + u * u / freedom) ** (-0.5 * (freedom - 1.0))
    return 2.0 * (above + tau / (2.0 * math.pi) * fall)


def t_quantile(above: float, freedom: float) -> float:
    """Value that Student's t exceeds with probability `above`; `freedom` may be infinite. [-]"""
    from scipy.special import ndtri, stdtrit

    return float(-ndtri(above)) if math.isinf(freedom) else float(-stdtrit(freedom, above))


def roughness(covariance: np.ndarray) -> float:
    """Path length tau of a curve over bins. [-]

    covariance : (n_bin, n_bin), may be estimated.
    """
    sd = np.sqrt(np.diag(covariance))
    neighbours = np.diag(covariance, 1) / (sd[1:] * sd[:-1])
    return float(np.arccos(np.clip(neighbours, -1.0, 1.0)).sum())


def pooled_covariance(
    groups: list[np.ndarray], *, prior: np.ndarray | None = None, prior_freedom: float = 0.0
) -> tuple[np.ndarray, float]:
    """Covariance of one curve around the mean of its own group, pooled, and its degrees of freedom.

    groups : one (n_curve, n_bin) array a group. prior : (n_bin, n_bin), worth `prior_freedom`.
    """
    bins = groups[0].shape[1]
    squares = np.zeros((bins, bins)) if prior is None else prior_freedom * prior
    freedom = prior_freedom
    for curves in groups:
        off = curves - curves.mean(axis=0)
        squares = squares + off.T @ off
        freedom += len(curves) - 1
    return squares / freedom, freedom


def t_curves(
    covariance: np.ndarray, count: int, *, prior_freedom: float, pull_freedom: int, random: np.random.Generator
) -> np.ndarray:
    """Curves as far from their estimate as curves with this estimated covariance are. (count, n_bin)

    Every speed is Student's t. Its chi-square is one for all speeds as far as the prior tells the scatter, and
    another at every speed as far as pulls do, correlated as the pulls are.
    covariance : (n_bin, n_bin), estimated with `prior_freedom` and `pull_freedom` degrees of freedom.
    """
    sd = np.sqrt(np.diag(covariance))
    size, vectors = np.linalg.eigh(covariance / np.outer(sd, sd))
    keep = size > 1e-4 * size[-1]
    root = (vectors[:, keep] * np.sqrt(size[keep])).T
    root /= np.sqrt((root**2).sum(axis=0))
    squares = np.repeat(random.chisquare(prior_freedom, (count, 1)), len(sd), axis=1)
    for _ in range(pull_freedom):
        squares += (random.standard_normal((count, len(root))) @ root) ** 2
    curves = random.standard_normal((count, len(root))) @ root
    return sd * curves / np.sqrt(squares / (prior_freedom + pull_freedom))
