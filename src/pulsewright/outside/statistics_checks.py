"""Regression, analysis of variance and lost digits: certified values of NIST; bands of whole curves."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.pulls.least_squares import least_squares
from pulsewright.pulls.one_way import lag1_autocorrelation, mean, one_way, standard_deviation
from pulsewright.pulls.pull_power import pulls_a_side
from pulsewright.pulls.simultaneous_band import critical_value

NIST = "NIST StRD, certified values"
KAC_RICE = "Kac-Rice for t processes, arXiv 1901.06386, 1910.00131"
LONGLEY = ("GNPDEFL", "GNP", "UNEMP", "ARMED", "POP", "YEAR")
VARIANCE_DIGITS = {"sirstv": 9, "smls01": 12, "smls04": 7}
COHEN = ((0.2, 393), (0.5, 64), (0.8, 26))  # size of the effect in standard deviations, members a group


def checks() -> Iterator[Check]:
    """Norris, Longley, SiRstv, SmLs01, SmLs04, NumAcc4, critical values, sizes of groups."""
    yield _regression("norris", ("x",), "y", 9)
    yield _regression("longley", LONGLEY, "TOTEMP", 7)
    for name, digits in VARIANCE_DIGITS.items():
        yield _variance(name, digits)
    yield from _lost_digits()
    yield worst(
        "critical value of a simultaneous 95 % band",
        KAC_RICE,
        ((_curves(r), r["sup_t_kac_rice_95"], _critical(r)) for r in table("simultaneous_band")),
        0.01,
    )
    yield worst(
        "pulls a side for 80 % power at 5 %, two-sided t test",
        "Cohen 1992, A power primer, table 2 (from memory)",
        ((f"effect {d:g} sd", n, float(pulls_a_side(d, 1.0) or math.nan)) for d, n in COHEN),
        1.0,
        "absolute",
    )


def _certified(name: str) -> dict[str, float]:
    return {r["quantity"]: r["certified"] for r in table("nist_certified") if r["set"] == name}


def _regression(name: str, columns: tuple[str, ...], answer: str, digits: int) -> Check:
    rows, certified = table(f"nist_{name}"), _certified(name)
    design = np.array([[1.0, *(r[c] for c in columns)] for r in rows])
    fit = least_squares(design, np.array([r[answer] for r in rows]))
    if fit is None:
        raise ValueError(f"{name} does not settle its columns")
    got = {"residual_sd": fit.residual_sd, "r_squared": fit.r_squared, "F": fit.f_statistic}
    for k, column in enumerate(("intercept", *columns)):
        estimate, sd = (f"B{k}", f"B{k}_sd") if name == "norris" else (f"estimate {column}", f"sd {column}")
        got |= {estimate: float(fit.estimate[k]), sd: float(fit.sd[k])}
    compared = ((key, certified[key], value) for key, value in got.items())
    return worst(f"linear regression {name.capitalize()}, {digits} digits", NIST, compared, 10.0**-digits)


def _variance(name: str, digits: int) -> Check:
    rows, certified = table(f"nist_{name}"), _certified(name)
    found = one_way([r["response"] for r in rows], [r["treatment"] for r in rows])
    got = {
        "between_ss": found.between_squares,
        "within_ss": found.within_squares,
        "F": found.f_statistic,
        "residual_sd": found.within_sd,
        "r_squared": found.r_squared,
    }
    compared = ((key, certified[key], value) for key, value in got.items() if key in certified)
    return worst(f"analysis of variance {name}, {digits} digits", NIST, compared, 10.0**-digits)


def _lost_digits() -> Iterator[Check]:
    values = [10000000.2, *[10000000.1, 10000000.3] * 500]  # the definition of NumAcc4
    certified = _certified("numacc4")
    for key, function, digits in (
        ("mean", mean, 12),
        ("sd", standard_deviation, 7),
        ("lag1_autocorrelation", lag1_autocorrelation, 7),
    ):
        what = f"NumAcc4 {key.replace('_', ' ')}, {digits} digits"
        tolerance = 10.0**-digits
        yield Check(what=what, source=NIST, expected=certified[key], got=function(values), tolerance=tolerance)


def _curves(row: dict) -> str:
    return f"{row['n_curves']:g} curves, correlation length {row['correlation_length_l']:g}"


def _critical(row: dict) -> float:
    return critical_value(1.0 / row["correlation_length_l"], row["n_curves"] - 1.0)
