"""How high each whole pull lies: setups, warming up, heat soak, drift, and what is left.

Model    log of the mean torque over the riding band of pull p =
         level of its setup + cold * (settled - head, if colder) + hot * (head - settled, if hotter)
         + order * (place in the day - middle) + scatter.
Settled  head temperature = middle of the 15 K window that holds most pulls (the lower on a tie).
Priors   (common practice, no published source) cold: 1 % a 15 K, engines gain a per cent or two while they
         warm up; hot: 3 % a 40 K, 0.5 to 3 % fall over a string; order: 0.2 % a pull, drift of 0.1 to 0.4 %
         a pull until settled; each as the standard deviation around 0. Scatter of a pull: 0.7 %, worth 4
         degrees of freedom.
Linear Gaussian posterior; the scatter and the posterior are refined together until they stay.
For      curves of a whole session, where a drift that is believed small does the least harm. A proof of a
         difference leaves drift free: level_difference.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.scatter_prior import USUAL

COLD_PRIOR = 0.01 / 15.0  # [1/K]
HOT_PRIOR = 0.03 / 40.0  # [1/K]
ORDER_PRIOR = 0.002  # [1/pull]
SCATTER_PRIOR = USUAL.gain  # [-]
SCATTER_FREEDOM = USUAL.freedom
SETTLED_WINDOW = 15.0  # [K]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PullLevels:
    """Posterior of the level model. Logs of torque: 0.01 is 1 %."""

    setups: tuple[str, ...]
    setup_level: np.ndarray  # (n_setup,) log torque at the settled head temperature
    drift: np.ndarray  # (n_pull,) log change from heat and order
    residual: np.ndarray  # (n_pull,) what is left: the pull's own gain
    cold: float  # [1/K]
    hot: float
    order: float  # [1/pull]
    cold_sd: float
    hot_sd: float
    order_sd: float
    scatter: float  # [-] of one pull
    freedom: float  # degrees of freedom of the scatter
    settled: float  # [K] head temperature, NaN where none was logged
    head: np.ndarray  # (n_pull,) [K] as logged, NaN unknown


def fit_levels(
    level: np.ndarray, setup: list[str], head: np.ndarray, *, order_prior: float = ORDER_PRIOR
) -> PullLevels:
    """Fit the level model to pulls in the order they were made.

    level : (n_pull,) log mean torque. setup : name a pull. head : (n_pull,) head temperature [K], NaN
    unknown. order_prior : standard deviation of the drift [1/pull].
    """
    names = tuple(dict.fromkeys(setup))
    count, groups = level.size, len(names)
    design = np.zeros((count, groups + 3))
    design[np.arange(count), [names.index(name) for name in setup]] = 1.0
    design[:, groups:-1] = heat_columns(head) / np.array([COLD_PRIOR, HOT_PRIOR])
    design[:, -1] = np.arange(count) - (count - 1) / 2.0
    precision = np.concatenate([np.zeros(groups), 1.0 / np.array([COLD_PRIOR, HOT_PRIOR, order_prior]) ** 2])
    scatter, freedom = SCATTER_PRIOR, SCATTER_FREEDOM
    for _ in range(30):
        covariance = np.linalg.inv(design.T @ design / scatter**2 + np.diag(precision))
        estimate = covariance @ (design.T @ level) / scatter**2
        residual = level - design @ estimate
        used = float(np.trace(design @ covariance @ design.T)) / scatter**2
        freedom = SCATTER_FREEDOM + max(0.0, count - used)
        renewed = math.sqrt((SCATTER_FREEDOM * SCATTER_PRIOR**2 + residual @ residual) / freedom)
        if abs(renewed - scatter) < 1e-9:
            break
        scatter = renewed
    sd = np.sqrt(np.diag(covariance))
    return PullLevels(
        setups=names,
        setup_level=estimate[:groups],
        drift=design[:, groups:] @ estimate[groups:],
        residual=residual,
        cold=float(estimate[groups]),
        hot=float(estimate[groups + 1]),
        order=float(estimate[groups + 2]),
        cold_sd=float(sd[groups]),
        hot_sd=float(sd[groups + 1]),
        order_sd=float(sd[groups + 2]),
        scatter=scatter,
        freedom=freedom,
        settled=settled_temperature(head),
        head=head,
    )


def heat_columns(head: np.ndarray) -> np.ndarray:
    """What one standard deviation of the priors for cold and hot does to every pull. (n_pull, 2) [-]

    head : (n_pull,) head temperature [K], NaN unknown: taken as settled.
    """
    over = head - settled_temperature(head)
    over = np.where(np.isfinite(over), over, 0.0)
    return np.column_stack([COLD_PRIOR * np.minimum(over, 0.0), HOT_PRIOR * np.maximum(over, 0.0)])


def settled_temperature(head: np.ndarray) -> float:
    """Middle of the 15 K window with most pulls; NaN without temperatures. [K]"""
    known = np.sort(head[np.isfinite(head)])
    if not known.size:
        return float("nan")
    inside = [known[(known >= low) & (known <= low + SETTLED_WINDOW)] for low in known]
    return float(max(inside, key=len).mean())
