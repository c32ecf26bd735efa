"""Straight least squares: estimates with their standard deviations.

Columns are scaled to unit length and solved by singular values; one step of refinement on the residual
wins back digits that badly mixed columns lose. Checked against the certified values of the NIST Statistical
Reference Datasets (Norris, Longley) by `pulsewright verify --only statistics`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LinearFit:
    """A fitted linear model."""

    estimate: np.ndarray  # (n_column,)
    covariance: np.ndarray  # (n_column, n_column) from the residual
    residual: np.ndarray  # (n_row,)
    residual_sd: float
    freedom: int  # of the residual
    r_squared: float  # [-] share of the scatter around the mean
    f_statistic: float  # [-] of all columns but the constant

    @property
    def sd(self) -> np.ndarray:
        """Standard deviations of the estimates. (n_column,)"""
        return np.sqrt(np.diag(self.covariance))


def least_squares(design: np.ndarray, values: np.ndarray) -> LinearFit | None:
    """Fit `values` (n_row,) by the columns of `design` (n_row, n_column), which span a constant.

    None where the rows do not settle every column, or leave no residual to judge by.
    """
    rows, columns = design.shape
    length = np.sqrt((design**2).sum(axis=0))
    if rows <= columns or not length.all():
        return None
    left, size, right = np.linalg.svd(design / length, full_matrices=False)
    if size[-1] < 1e-13 * size[0] * rows:
        return None
    inverse = right.T / size
    scaled = inverse @ (left.T @ values)
    scaled = scaled + inverse @ (left.T @ _exact_residual(design / length, scaled, values))
    residual = _exact_residual(design / length, scaled, values)
    freedom = rows - columns
    squares = math.fsum(residual**2)
    total = math.fsum((values - math.fsum(values) / rows) ** 2)
    residual_sd = math.sqrt(squares / freedom)
    covariance = residual_sd**2 * (inverse @ inverse.T) / np.outer(length, length)
    explained = (total - squares) / max(1, columns - 1)
    return LinearFit(
        estimate=scaled / length, covariance=covariance, residual=residual, residual_sd=residual_sd,
        freedom=freedom, r_squared=1.0 - squares / total if total > 0.0 else float("nan"),
        f_statistic=explained / residual_sd**2 if residual_sd > 0.0 else math.inf,
    )  # fmt: skip


def _exact_residual(design: np.ndarray, estimate: np.ndarray, values: np.ndarray) -> np.ndarray:
    """values - design @ estimate, each row summed without rounding in between. (n_row,)"""
    products = design * estimate
    return np.array([math.fsum([y, *(-row)]) for y, row in zip(values, products, strict=True)])
