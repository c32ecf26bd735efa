"""Expected information: against closed forms of a channel, and that it tells what can be told."""

import numpy as np
import pytest

from pulsewright.remedies.hypotheses import Expected
from pulsewright.remedies.information import bits_of_yes_or_no, expected_bits, log_likelihoods, posteriors


def normal(cause: str, chance: float, mean: list[float], sd: float = 1.0) -> Expected:
    size = len(mean)
    return Expected(cause=cause, chance=chance, mean=np.array(mean), covariance=sd**2 * np.eye(size))


def test_a_test_that_shows_the_same_for_all_tells_nothing():
    assert expected_bits([normal("a", 0.5, [0.0]), normal("b", 0.5, [0.0])]) == pytest.approx(0.0, abs=1e-9)


def test_a_test_that_parts_all_tells_the_whole_entropy():
    chances = [0.5, 0.25, 0.25]
    far = [normal(str(k), p, [100.0 * k]) for k, p in enumerate(chances)]
    assert expected_bits(far) == pytest.approx(1.5, abs=0.05)


def test_two_normals_tell_what_the_integral_says():
    """Mutual information of a fair choice between N(-1, 1) and N(1, 1) by quadrature."""
    x = np.linspace(-9.0, 9.0, 20001)
    a, b = (np.exp(-0.5 * (x - m) ** 2) / np.sqrt(2.0 * np.pi) for m in (-1.0, 1.0))
    mixed = 0.5 * (a + b)
    with np.errstate(divide="ignore", invalid="ignore"):
        integrand = 0.5 * a * np.log2(a / mixed) + 0.5 * b * np.log2(b / mixed)
    exact = float(np.trapezoid(np.nan_to_num(integrand), x))
    pair = [normal("a", 0.5, [-1.0]), normal("b", 0.5, [1.0])]
    found = np.mean([expected_bits(pair, seed) for seed in range(20)])
    assert found == pytest.approx(exact, abs=0.02)


def test_densities_are_those_of_scipy():
    from scipy.stats import multivariate_normal

    random = np.random.default_rng(3)
    root = random.standard_normal((3, 3))
    e = Expected(cause="a", chance=1.0, mean=np.array([1.0, 0.0, 2.0]), covariance=root @ root.T + np.eye(3))
    y = random.standard_normal((5, 3))
    ours = log_likelihoods([e], y)[:, 0] - 1.5 * np.log(2.0 * np.pi)
    assert ours == pytest.approx(multivariate_normal.logpdf(y, e.mean, e.covariance))  # type: ignore[arg-type]


def test_posteriors_follow_bayes():
    both = [normal("a", 0.2, [0.0]), normal("b", 0.8, [1.0])]
    p = posteriors(both, np.array([[0.5]]))[0]
    assert p == pytest.approx([0.2, 0.8])  # half-way: the data say nothing
    assert posteriors(both, np.array([[-5.0]]))[0, 0] > 0.95


@pytest.mark.parametrize(
    ("chance", "sure", "bits"), [(0.5, 1.0, 1.0), (0.5, 0.5, 0.0), (0.0, 0.9, 0.0), (1.0, 0.9, 0.0)]
)
def test_yes_or_no_is_the_binary_channel(chance: float, sure: float, bits: float):
    assert bits_of_yes_or_no({"x": chance}, "x", sure) == pytest.approx(bits, abs=1e-12)


def test_the_capacity_of_a_binary_channel():
    """1 - H(0.11) = 0.5 bit: Cover & Thomas, binary symmetric channel (value from memory)."""
    assert bits_of_yes_or_no({"x": 0.5}, "x", 0.89) == pytest.approx(0.5, abs=0.001)
