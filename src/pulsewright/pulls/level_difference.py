r"""How much higher the pulls of one setup lie than those of another: the whole posterior, drift left free.

.. math:: y_p = \mu_{setup} + c \min(\Delta T_p, 0) + h \max(\Delta T_p, 0) + d z_p + r_{assembly} + g_p

Model    y: log of torque, mean over the band; T: head temperature over the settled one; z: place in the day;
         r, g: what an assembly and a single pull add, normal, their variances unknown (scatter_prior.py).
Drift    d is left wholly free wherever the order of pulls can tell it from the change, so a straight drift
         moves no difference, in A-A-B-B as little as in A-B-B-A; the price is the wider interval of a bad
         order. Where it cannot (A-B, A-A-B ...) d is believed small (pull_levels.py), and `drift_free` says so.
         The heat terms keep their priors: head temperature is logged, and runs with the place in the day.
Method   generalised least squares for given variances; these are integrated over a grid with the restricted
         likelihood (D. A. Harville, J. Am. Stat. Assoc. 72 (1977) 320-338, from memory) times the prior.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.pull_levels import ORDER_PRIOR, heat_columns
from pulsewright.pulls.scatter_prior import USUAL, ScatterPrior

COLUMNS = {"gain": np.arange(-2.5, 3.2, 0.125), "refit": np.arange(-2.5, 3.2, 0.25)}  # logs over the usual scatter


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelDifference:
    """Log level of the second setup over the first: normals in a mixture, one a pair of variances."""

    weight: np.ndarray  # (n_grid,) sum 1
    middle: np.ndarray  # (n_grid,)
    deviation: np.ndarray  # (n_grid,) standard deviations
    gain: float  # [-] scatter of one pull, root of its posterior mean square
    refit: float  # [-] of one assembly, 0 where nothing was taken apart
    freedom: float  # degrees of freedom of the gain: prior, and pulls less what was fitted
    drift: float  # [1/pull]
    drift_sd: float
    drift_free: bool  # False: the order cannot tell drift from change, drift is believed small

    @property
    def mean(self) -> float:
        """Posterior mean. [-]"""
        return float(self.weight @ self.middle)

    @property
    def variance(self) -> float:
        """Posterior variance. [-]"""
        return float(self.weight @ (self.deviation**2 + (self.middle - self.mean) ** 2))

    def half_width(self, inside: float) -> float:
        """Half of the interval around the mean that holds the difference with probability `inside`. [-]"""
        from scipy.optimize import brentq
        from scipy.special import ndtr

        off = self.middle - self.mean

        def short(half: float) -> float:
            held = ndtr((half - off) / self.deviation) - ndtr((-half - off) / self.deviation)
            return float(self.weight @ held) - inside

        return float(brentq(short, 0.0, 100.0 * math.sqrt(self.variance)))  # type: ignore[arg-type]

    def draws(self, random: np.random.Generator, count: int) -> np.ndarray:
        """Draws of the difference. (count,)"""
        at = random.choice(self.weight.size, size=count, p=self.weight)
        return self.middle[at] + self.deviation[at] * random.standard_normal(count)


def level_difference(
    level: np.ndarray,
    setup: list[str],
    names: tuple[str, str],
    *,
    head: np.ndarray | None = None,
    place: np.ndarray | None = None,
    assembly: np.ndarray | None = None,
    prior: ScatterPrior = USUAL,
) -> LevelDifference:
    """Posterior of the level of `names[1]` over `names[0]`.

    level : (n_pull,) log mean torque in the order of the day. setup : name a pull. head : (n_pull,) head
    temperature [K], NaN or None unknown. place : (n_pull,) in the day, one after another where None.
    assembly : (n_pull,) number of the assembly that a pull was made with; None: nothing was taken apart.
    """
    count = level.size
    place = np.arange(count, dtype=float) if place is None else place
    head = np.full(count, np.nan) if head is None else head
    groups = list(dict.fromkeys(setup))
    fixed = np.column_stack([[float(s == name) for s in setup] for name in groups] + [place - place.mean()])
    heat = heat_columns(head)
    known = heat @ heat.T
    drift_free = count > np.linalg.matrix_rank(fixed) == fixed.shape[1]
    if not drift_free:
        known = known + ORDER_PRIOR**2 * np.outer(fixed[:, -1], fixed[:, -1])
    design = fixed if drift_free else fixed[:, :-1]
    apart = None if assembly is None else np.equal.outer(assembly, assembly).astype(float)
    gain, refit, prior_log = _grid(prior, refitted=apart is not None)
    scatter = gain[:, None, None] ** 2 * np.eye(count) + known
    if apart is not None:
        scatter = scatter + refit[:, None, None] ** 2 * apart
    estimate, covariance, likelihood = _generalised(design, level, scatter)
    weight = np.exp((each := likelihood + prior_log) - each.max())
    weight /= weight.sum()
    contrast = np.zeros(design.shape[1])
    contrast[groups.index(names[1])], contrast[groups.index(names[0])] = 1.0, -1.0
    slope, slope_sd = (
        (estimate[:, -1], np.sqrt(covariance[:, -1, -1])) if drift_free else (0.0 * gain, ORDER_PRIOR + 0.0 * gain)
    )
    drift = float(weight @ slope)
    return LevelDifference(
        weight=weight,
        middle=estimate @ contrast,
        deviation=np.sqrt(np.einsum("i,gij,j->g", contrast, covariance, contrast)),
        gain=math.sqrt(weight @ gain**2),
        refit=math.sqrt(weight @ refit**2) if apart is not None else 0.0,
        freedom=prior.freedom + count - design.shape[1],
        drift=drift,
        drift_sd=math.sqrt(weight @ (slope_sd**2 + (slope - drift) ** 2)),
        drift_free=drift_free,
    )


def _grid(prior: ScatterPrior, *, refitted: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Scatter of pulls and of assemblies on a grid, and the log of their prior. (n_grid,) each"""
    gain, refit = np.meshgrid(COLUMNS["gain"], COLUMNS["refit"] if refitted else np.zeros(1), indexing="ij")
    gain, refit = gain.ravel(), refit.ravel()
    log = _prior_log(gain, prior.freedom) + (_prior_log(refit, prior.freedom) if refitted else 0.0)
    return prior.gain * np.exp(gain), prior.refit * np.exp(refit), log


def _prior_log(over: np.ndarray, freedom: float) -> np.ndarray:
    """Log density, but for a constant, of the log of the scatter over the usual one."""
    return -freedom * (over + 0.5 * np.exp(-2.0 * over))


def _generalised(
    design: np.ndarray, level: np.ndarray, scatter: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Estimates, covariances and log restricted likelihood for every covariance (n_grid, n_pull, n_pull)."""
    inverse = np.linalg.inv(scatter)
    weighted = design.T @ inverse
    information = weighted @ design
    covariance = np.linalg.inv(information)
    estimate = np.einsum("gij,gj->gi", covariance, weighted @ level)
    off = level - estimate @ design.T
    squares = np.einsum("gi,gij,gj->g", off, inverse, off)
    sizes = np.linalg.slogdet(scatter)[1] + np.linalg.slogdet(information)[1]
    return estimate, covariance, -0.5 * (squares + sizes)
