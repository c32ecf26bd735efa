"""Delay and lag of the lambda reading on logs whose lag is known."""

import numpy as np
import pytest
from tests.pull_logs import Log, write_log

from pulsewright.pulls.lambda_lag import estimate_lag
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.unlag import unlagged


def _pulls(tmp_path, rates, **log):
    return [
        read_pull(write_log(tmp_path / f"{k}.csv", Log(rate=rate, seed=k, **log).columns()))
        for k, rate in enumerate(rates)
    ]


@pytest.mark.parametrize(("delay", "lag"), [(0.06, 0.12), (0.20, 0.07)])
@pytest.mark.parametrize("rates", [(250.0, 600.0), (450.0, -450.0)])
def test_two_rates_or_two_directions_show_the_lag(tmp_path, delay, lag, rates):
    found = estimate_lag([_pulls(tmp_path, rates * 2, delay=delay, lag=lag)])
    assert found.method == "rates"
    assert found.total == pytest.approx(delay + lag, abs=0.03)
    assert abs(found.lag - lag) < 2.0 * found.lag_sd  # the split of the two is weak, and said to be


def test_one_rate_shows_nothing_and_says_so(tmp_path):
    found = estimate_lag([_pulls(tmp_path, (450.0, 455.0, 445.0))])
    assert found.method == "prior"
    assert "usual range" in found.text
    # common practice: delay 0.05 to 0.25 s, time constant 0.05 to 0.15 s
    assert 0.05 < found.delay < 0.25
    assert found.total_sd > 0.06


def test_a_delay_that_the_owner_states_is_kept(tmp_path):
    found = estimate_lag([_pulls(tmp_path, (450.0,))], given=0.12)
    assert found.method == "given"
    assert found.delay == pytest.approx(0.12, abs=0.01)


@pytest.mark.parametrize("rate", [300.0, 650.0, -450.0])
def test_unlagging_puts_the_rich_dip_back(tmp_path, rate):
    pull = _pulls(tmp_path, (rate,), delay=0.2, lag=0.1)[0]
    mixture = pull.mixture
    assert mixture is not None
    near = (pull.engine_speed > 2400.0) & (pull.engine_speed < 3600.0)
    late = _dip(pull.engine_speed[near], mixture[near])
    assert abs(late - 3000.0) > 0.6 * 0.3 * abs(rate)  # it was late indeed
    speed, sharp = unlagged(pull, mixture, 0.2, 0.1)
    near = (speed > 2400.0) & (speed < 3600.0)
    assert _dip(speed[near], sharp[near]) == pytest.approx(3000.0, abs=20.0)


def _dip(speed: np.ndarray, mixture: np.ndarray) -> float:
    """Centre of the dip, weighted by its depth."""
    depth = np.maximum(0.0, np.percentile(mixture, 80) - mixture - 0.02)
    return float((depth * speed).sum() / depth.sum())
