"""What the order of pulls does to a difference, how many pulls show it, and what they rule out."""

import math

import numpy as np
import pytest

from pulsewright.pulls.equivalence import equivalence, smallest_margin
from pulsewright.pulls.free_drift import free_drift, order_bias
from pulsewright.pulls.level_difference import level_difference
from pulsewright.pulls.pull_power import order_variance, power, pulls_a_side, pulls_needed
from pulsewright.pulls.scatter_prior import USUAL
from pulsewright.pulls.simultaneous_band import t_quantile

# Arithmetic of plain means under a drift of -0.3 % a pull and no effect.
KNOWN_BIAS = [("AABB", -0.6), ("AAABBB", -0.9), ("ABAB", -0.3), ("ABBA", 0.0), ("ABA", 0.0), ("ABABA", 0.0)]


@pytest.mark.parametrize(("order", "percent"), KNOWN_BIAS)
def test_plain_means_take_drift_for_an_effect_unless_the_order_balances_it(order, percent):
    assert -0.3 * order_bias(list(order), "A", "B") == pytest.approx(percent, abs=1e-12)


@pytest.mark.parametrize("order", ["AABB", "AAABBB", "ABAB", "ABBA", "AABBCC"])
@pytest.mark.parametrize("effect", [0.0, 0.02])
def test_free_drift_removes_a_straight_drift_in_every_order(order, effect):
    level = 4.0 - 0.003 * np.arange(len(order)) + effect * np.array([s == "B" for s in order])
    found = free_drift(level, list(order), "A", "B")
    assert found.percent == pytest.approx(100.0 * math.expm1(effect), abs=1e-9)
    assert found.drift_percent == pytest.approx(100.0 * math.expm1(-0.003), abs=1e-9)


@pytest.mark.parametrize(("order", "is_balanced"), [("AABB", False), ("AAABBB", False), ("ABBA", True)])
def test_sessions_of_both_orders_under_drift(order, is_balanced):
    """2,000 sessions, scatter 0.7 %, drift -0.3 % a pull, no effect: mean of the estimates, and coverage."""
    random = np.random.default_rng(2)
    setups, sessions = list(order), 2000
    is_b = np.array([s == "B" for s in setups])
    plain, free, holds = [], [], 0
    for _ in range(sessions):
        level = -0.003 * np.arange(len(setups)) + 0.007 * random.standard_normal(len(setups))
        plain.append(100.0 * (level[is_b].mean() - level[~is_b].mean()))
        found = free_drift(level, setups, "A", "B")
        assert found.percent is not None
        assert found.low is not None
        assert found.high is not None
        free.append(found.percent)
        holds += found.low <= 0.0 <= found.high
    error = 4.0 * np.std(free) / math.sqrt(sessions)
    assert abs(np.mean(free)) < error
    assert bool(abs(np.mean(plain)) < 0.1) is is_balanced
    assert found.balanced is is_balanced
    assert holds / sessions == pytest.approx(0.95, abs=0.02)  # four standard deviations of the count


def test_too_few_pulls_leave_the_drift_open():
    found = free_drift(np.array([1.0, 1.1, 1.2]), ["A", "B", "A"], "A", "B")
    assert found.percent is None
    assert found.balanced


def test_pulls_of_other_setups_keep_their_place_in_the_order():
    found = free_drift(np.arange(6.0), list("AACCBB"), "A", "B")
    assert found.order == "AA..BB"
    assert found.bias_pulls == 4.0


@pytest.mark.parametrize(("effect", "scatter", "pulls"), [(0.02, 0.01, 6), (0.01, 0.005, 6), (0.03, 0.01, 4)])
def test_power_is_what_simulated_tests_show(effect, scatter, pulls):
    """20,000 two-sided t tests of two groups of pulls at 5 %."""
    random = np.random.default_rng(7)
    a, b = scatter * random.standard_normal((2, 20_000, pulls))
    pooled = np.sqrt((a.var(axis=1, ddof=1) + b.var(axis=1, ddof=1)) / pulls)
    found = np.abs(b.mean(axis=1) + effect - a.mean(axis=1)) / pooled > t_quantile(0.025, 2 * pulls - 2)
    predicted = power(effect, scatter * math.sqrt(2.0 / pulls), 2 * pulls - 2)
    assert found.mean() == pytest.approx(predicted, abs=0.014)  # four standard deviations of the count
    assert predicted >= 0.8
    assert pulls_a_side(effect, scatter) == pulls


def test_power_without_an_effect_is_the_error_allowed():
    assert power(0.0, 1.0, 8.0) == pytest.approx(0.05, abs=1e-9)
    assert power(100.0, 1.0, 8.0) == 1.0


@pytest.mark.parametrize(
    ("order", "by_hand"),
    [
        ("ABBA", 1.0),
        ("AAABBBAAA", 1.0 / 6.0 + 1.0 / 3.0),
        ("AABB", 1.0 + 2.0**2 / 1.0),  # means 2 places apart; squares of places within setups 4 * 0.25
        ("AAABBB", 2.0 / 3.0 + 3.0**2 / 4.0),
        ("AABBCC", 1.0 + 2.0**2 / 1.5),  # the third setup tells of drift too
        ("AB", 2.0),  # nothing left to tell drift by: plain means
    ],
)
def test_the_order_of_pulls_sets_the_variance_of_the_difference(order, by_hand):
    assert order_variance(order) == pytest.approx(by_hand)


def test_more_pulls_until_the_change_shows():
    need = pulls_needed(1.0, "ABBAAB", scatter=0.007, freedom=8.0)
    assert need.first is not None
    assert need.second is not None

    def chance(order: str) -> float:
        return power(math.log(1.01), 0.007 * math.sqrt(order_variance(order)), 8.0 + len(order) - 6)

    whole = "ABBAAB" + need.order
    assert need.order.count("A") == need.first
    assert chance(whole[:-1]) < 0.8 <= chance(whole)
    assert order_variance(whole) < 1.1 * (1.0 / (3 + need.first) + 1.0 / (3 + need.second))  # nearly balanced
    assert pulls_needed(8.0, "ABBAAB", scatter=0.007, freedom=8.0).first == 0


def test_a_bad_order_is_put_right_by_the_pulls_that_follow():
    """A-A-A-B-B-B shows little; an A after it tells the drift."""
    need = pulls_needed(2.0, "AAABBB", scatter=0.007, freedom=8.0)
    assert need.power_now < 0.5
    assert need.order[0] == "A"


def test_no_number_of_pulls_outruns_refitting():
    need = pulls_needed(1.0, "ABBAAB", scatter=0.007, freedom=8.0, refit_sd=0.0099)
    assert need.second is None
    assert "put each setup together afresh 8 times" in need.text  # (0.0099 * 2.802 / 0.00995)^2 = 7.8


@pytest.mark.parametrize(("order", "effect"), [("ABBAAB", 0.02), ("AAABBB", 0.03), ("ABBAABBA", 0.012)])
def test_the_power_told_is_what_the_comparison_has_in_simulated_sessions(order, effect):
    """600 sessions under drift; scatter drawn from the prior, power told for the scatter that a session drew."""
    random = np.random.default_rng(9)
    setup, count, sessions = list(order), len(order), 600
    is_b = np.array([s == "B" for s in setup])
    shown, told = 0, []
    for _ in range(sessions):
        scatter = USUAL.gain * math.sqrt(USUAL.freedom / random.chisquare(USUAL.freedom))
        level = effect * is_b - 0.002 * np.arange(count) + scatter * random.standard_normal(count)
        found = level_difference(level, setup, ("A", "B"))
        shown += abs(found.mean) > found.half_width(0.95)
        told.append(power(effect, scatter * math.sqrt(order_variance(order)), found.freedom))
    slack = 4.0 * math.sqrt(0.25 / sessions)
    assert shown / sessions == pytest.approx(np.mean(told), abs=slack)


def test_two_one_sided_tests_rule_out_what_is_asked():
    """No more than one time in twenty is a true change of the margin called smaller than it."""
    random = np.random.default_rng(3)
    true, sd, freedom, tries = math.log(1.014), 0.004, 9.0, 20_000
    middle = true + sd * random.standard_normal(tries)
    half = t_quantile(0.05, freedom) * sd * np.sqrt(random.chisquare(freedom, tries) / freedom)
    called = np.mean([smallest_margin(m, h) < 1.4 for m, h in zip(middle, half, strict=True)])
    assert called <= 0.05 + 4.0 * math.sqrt(0.05 * 0.95 / tries)
    assert called >= 0.05 - 4.0 * math.sqrt(0.05 * 0.95 / tries)  # as sharp as it may be


def test_the_equivalence_says_its_band_and_the_largest_change_left():
    log = np.array([0.0, 0.004, -0.002])
    half = 1.7823 * 0.005  # t(0.95; 12) = 1.7823, printed tables
    found = equivalence((2200.0, 3800.0), mean=(0.001, 1.7823 * 0.003), curve=(log, np.full(3, half)))
    assert found.curve_within == pytest.approx(100.0 * math.expm1(0.004 + half), abs=1e-3)
    assert found.mean_within < found.curve_within
    assert "no change larger than 1.3 % anywhere in 2200 to 3800 rpm" in found.text
    assert found.holds(1.4)
    assert not found.holds(1.2)
