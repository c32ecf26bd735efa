"""NIST StRD, nonlinear regression: certified values found by the search that fits the engine model.

Data and certified values: data/nist_nonlinear.toml, which says where they were read. No prior, no limits, normal
noise; slopes by central differences, renewed at every step.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from pulsewright.fit.evidence import Evidence
from pulsewright.fit.gauss_newton import Best, Prior, Search, curvature, search_best

SETS = tomllib.loads((Path(__file__).parent / "data" / "nist_nonlinear.toml").read_text(encoding="utf-8"))
exp = np.exp
MODELS = {
    "Misra1a": lambda x, b: b[0] * (1.0 - exp(-b[1] * x)),
    "Chwirut2": lambda x, b: exp(-b[0] * x) / (b[1] + b[2] * x),
    "DanWood": lambda x, b: b[0] * x ** b[1],
    "MGH09": lambda x, b: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    "Rat42": lambda x, b: b[0] / (1.0 + exp(b[1] - b[2] * x)),
    "Rat43": lambda x, b: b[0] / (1.0 + exp(b[1] - b[2] * x)) ** (1.0 / b[3]),
    "Thurber": lambda x, b: (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3)
    / (1.0 + b[4] * x + b[5] * x**2 + b[6] * x**3),
    "MGH10": lambda x, b: b[0] * exp(b[1] / (x + b[2])),
    "BoxBOD": lambda x, b: b[0] * (1.0 - exp(-b[1] * x)),
    "Eckerle4": lambda x, b: b[0] / b[1] * exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
    "MGH17": lambda x, b: b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]),
}  # fmt: skip
FAR, NEAR = 0, 1
# From the far start, plain damping leads these elsewhere, as it does in most programs; the near one must do.
NEAR_ONLY = {"MGH17", "BoxBOD", "MGH10", "Eckerle4"}
CASES = [(name, start) for name in MODELS for start in (FAR, NEAR) if not (start == FAR and name in NEAR_ONLY)]


def searched(name: str, start: int) -> tuple[Best, np.ndarray, Prior]:
    data = SETS[name]
    y, x = np.array(data["rows"]).T
    scale = float(np.std(y))

    def run(b: np.ndarray) -> np.ndarray:
        with np.errstate(all="ignore"):
            value = MODELS[name](x, b)
        return np.where(np.isfinite(value), value, 1e6 * scale)

    def slopes(b: np.ndarray, _value: np.ndarray) -> np.ndarray:
        steps = 1e-6 * np.maximum(np.abs(b), 1e-12)
        return np.array([(run(b + h) - run(b - h)) / (2.0 * s) for s, h in zip(steps, np.diag(steps), strict=True)]).T

    count = len(data["certified"])
    free = Prior(
        mean=np.zeros(count), precision=np.zeros(count), low=np.full(count, -np.inf), high=np.full(count, np.inf)
    )
    noise = Evidence(measured=y, error=np.zeros((y.size, y.size)), noise=np.ones(y.size), freedom=np.inf)
    search = Search(most_runs=2000, fresh_slopes=1, enough=1e-16)
    return search_best(run, slopes, noise, free, np.array(data["starts"][start]), search), y, free


@pytest.mark.parametrize(("name", "start"), CASES)
def test_certified_parameters_are_found(name: str, start: int):
    data, (best, y, free) = SETS[name], searched(name, start)
    assert best.z == pytest.approx(data["certified"], rel=1e-6)
    residual = y - best.value
    assert residual @ residual == pytest.approx(data["rss"], rel=1e-8)
    sd = data["residual_sd"] * np.sqrt(np.diag(np.linalg.inv(curvature(best.slopes, best.inverse_spread, free))))
    assert sd == pytest.approx(data["sd"], rel=1e-4)


def test_limits_hold_and_the_rest_is_the_best_there():
    """BoxBOD with b1 held under 200: b2 must be what a scan of that one number gives."""
    data = SETS["BoxBOD"]
    y, x = np.array(data["rows"]).T
    run = lambda b: MODELS["BoxBOD"](x, b)  # noqa: E731

    def slopes(b, value):
        return np.array([(run(b + h) - value) / 1e-7 for h in 1e-7 * np.eye(2)]).T

    limits = Prior(mean=np.zeros(2), precision=np.zeros(2), low=np.array([0.0, 0.0]), high=np.array([200.0, 5.0]))
    noise = Evidence(measured=y, error=np.zeros((6, 6)), noise=np.ones(6), freedom=np.inf)
    best = search_best(run, slopes, noise, limits, np.array([100.0, 0.75]), Search(most_runs=200, fresh_slopes=1))
    scan = np.linspace(0.1, 2.0, 19_001)
    costs = [np.sum((y - run((200.0, b))) ** 2) for b in scan]
    assert best.z[0] == 200.0
    assert best.z[1] == pytest.approx(scan[int(np.argmin(costs))], abs=1e-4)
