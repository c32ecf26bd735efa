"""How much a test tells about the cause before it is made: expected information, in bits.

Source   T. M. Cover & J. A. Thomas, Elements of Information Theory, 2nd ed. (2006), mutual information (2.4);
         D. V. Lindley, On a measure of the information provided by an experiment, Ann. Math. Stat. 27 (1956) 986
         (both from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from pulsewright.remedies.hypotheses import Expected

SAMPLES = 400  # outcomes drawn for every cause


def expected_bits(expected: Sequence[Expected], seed: int = 1) -> float:
    """Bits about the cause that an outcome brings on average; outcomes are normal under every cause."""
    chances = np.array([e.chance for e in expected])
    random = np.random.default_rng(seed)
    total = 0.0
    for k, e in enumerate(expected):
        drawn = random.multivariate_normal(e.mean, e.covariance, SAMPLES, method="cholesky")
        posterior = posteriors(expected, drawn)
        total += chances[k] * float(np.mean(np.log2(np.maximum(posterior[:, k], 1e-12) / chances[k])))
    return max(total, 0.0)


def posteriors(expected: Sequence[Expected], outcomes: np.ndarray) -> np.ndarray:
    """Probability of every cause after outcomes. (n, len(expected)); outcomes : (n, size)"""
    logs = log_likelihoods(expected, outcomes) + np.log([e.chance for e in expected])
    odds = np.exp(logs - logs.max(axis=1, keepdims=True))
    return odds / odds.sum(axis=1, keepdims=True)


def log_likelihoods(expected: Sequence[Expected], outcomes: np.ndarray) -> np.ndarray:
    """Natural log of the density of outcomes under every cause. (n, len(expected))"""
    columns = []
    for e in expected:
        root = np.linalg.cholesky(e.covariance)
        scaled = np.linalg.solve(root, (outcomes - e.mean).T)
        columns.append(-0.5 * (scaled**2).sum(axis=0) - np.log(np.diag(root)).sum())
    return np.array(columns).T


def bits_of_yes_or_no(chances: Mapping[str, float], suspect: str, sure: float) -> float:
    """Bits of a test that says yes with probability `sure` where `suspect` is to blame, and with 1 - sure elsewhere."""
    p = min(max(chances.get(suspect, 0.0), 0.0), 1.0)
    yes = p * sure + (1.0 - p) * (1.0 - sure)
    return max(_entropy(yes) - _entropy(sure), 0.0)


def _entropy(p: float) -> float:
    """Of a yes with probability p. [bit]"""
    return 0.0 if p in (0.0, 1.0) else float(-p * np.log2(p) - (1.0 - p) * np.log2(1.0 - p))
