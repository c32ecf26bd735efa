"""What is believed about the scatter of pulls before any is made.

Three variances, each with a scaled inverse chi-square prior (A. Gelman et al., Bayesian Data Analysis, 3rd
ed., section 3.2; from memory): worth `freedom` pulls whose scatter was the value given.
Values   common practice, no published source: a pull's gain scatters by 0.7 %, putting parts together again
         adds 0.7 %, a 50 rpm bin 0.4 %, alike over 100 rpm. Worth 4: 90 % of shops then lie between 0.65 and 2.4
         times that, 0.45 to 1.7 % for the gain; the trade says 0.4 to 1.5 %.
Claim    intervals and bands built on this prior hold in 95 % of sessions of shops that scatter as it says. In
         a shop that is known to scatter less they hold more often, in a worse one less often, the less the
         more pulls there are to tell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class ScatterPrior:
    """Usual scatter of pulls, as standard deviations of the log of torque [-]."""

    gain: float = 0.007  # of the mean of a whole pull over the band
    refit: float = 0.007  # of an assembly: every time parts are put together again
    noise: float = 0.004  # of a 50 rpm bin of one pull, beside its gain
    noise_length: float = 100.0  # [rpm] over which the noise of bins falls to 1/e alike
    freedom: float = 4.0  # degrees of freedom that each is worth


USUAL = ScatterPrior()


def believed_noise(rpm: np.ndarray, prior: ScatterPrior) -> np.ndarray:
    """Covariance of the bins of one pull, its gain left out, falling with their distance. (n_bin, n_bin)"""
    return prior.noise**2 * np.exp(-np.abs(np.subtract.outer(rpm, rpm)) / prior.noise_length)
