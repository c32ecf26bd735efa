"""Delay and lag of the lambda reading on logs whose lag is known; the logs are invented here."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from tests.pull_logs import Log, smooth_torque, with_dip, write_log

from pulsewright.pulls.lambda_lag import estimate_lag
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.torque_events import torque_breaks
from pulsewright.pulls.unlag import unlagged, unlagged_sd

SECONDS = 0.020  # [s] of lateness
SHARE = 0.30  # [-] of the time constant
UP_AND_DOWN = (450.0, -450.0) * 3
TWO_RATES = (230.0, 700.0) * 3
TRUTHS = ((0.06, 0.12), (0.20, 0.08), (0.12, 0.10))  # [s], [s]


def _pulls(tmp_path, rates, **log):
    return [
        read_pull(write_log(tmp_path / f"{k}.csv", Log(rate=rate, seed=k, **log).columns()))
        for k, rate in enumerate(rates)
    ]


def _sharp(rpm):
    """Lambda of an engine with a rich dip 250 rpm wide, as jets leave where a hole is. [-]"""
    return 0.86 - 0.12 * np.exp(-0.5 * ((rpm - 3400.0) / 110.0) ** 2) + 0.03 * np.tanh((rpm - 4600.0) / 300.0)


@pytest.mark.parametrize("rates", [TWO_RATES, UP_AND_DOWN], ids=["two rates", "up and down"])
@pytest.mark.parametrize(
    ("delay", "lag", "step", "noise"),
    [(0.06, 0.12, 0.01, 0.006), (0.20, 0.08, 0.02, 0.004), (0.12, 0.10, 0.05, 0.002)],
)
def test_two_rates_or_two_directions_show_the_lag(tmp_path, delay, lag, step, noise, rates):
    pulls = []
    for k, rate in enumerate(rates):
        log = Log(rate=rate, seed=k, delay=delay, lag=lag, step=step, mixture=_sharp, lambda_noise=noise)
        pulls.append(read_pull(write_log(tmp_path / f"{k}.csv", log.columns())))
    found = estimate_lag([pulls])
    assert found.method == "rates"
    assert abs(found.total - (delay + lag)) <= SECONDS
    assert abs(found.lag - lag) <= SHARE * lag


@pytest.mark.parametrize(
    ("delay", "lag", "step", "noise"),
    [(0.06, 0.12, 0.01, 0.006), (0.20, 0.08, 0.02, 0.004), (0.12, 0.10, 0.05, 0.002)],
)
def test_short_breaks_in_the_torque_show_the_lag_at_one_rate(tmp_path, delay, lag, step, noise):
    pulls = []
    for k in range(3):
        log = Log(seed=k, delay=delay, lag=lag, step=step, lambda_noise=noise, cuts=_cuts(k))
        pulls.append(read_pull(write_log(tmp_path / f"{k}.csv", log.columns())))
    found = estimate_lag([pulls])
    assert found.method == "breaks"
    assert abs(found.total - (delay + lag)) <= SECONDS
    assert abs(found.lag - lag) <= SHARE * lag


def _cuts(pull: int) -> tuple[float, ...]:
    """When the ignition fails in a pull: never twice at one engine speed. [s]"""
    return tuple(at + 0.5 * pull for at in (2.5, 4.6, 6.6))


@pytest.mark.slow
@pytest.mark.parametrize("way", ["two rates", "up and down", "breaks"])
def test_the_lag_is_right_on_average_and_as_far_off_as_said(tmp_path, way):
    """60 sessions a way over truths, noises and sampling rates: lateness within 20 ms and time constant within
    30 % in 95 % and 90 % of them, no bias, and the standard deviations as large as the errors."""
    rates = {"two rates": TWO_RATES, "up and down": UP_AND_DOWN, "breaks": (450.0,) * 3}[way]
    late, split = [], []
    for seed, ((delay, lag), step, noise) in enumerate(
        itertools.islice(itertools.cycle(itertools.product(TRUTHS, (0.01, 0.02, 0.05), (0.002, 0.004))), 60)
    ):
        log = Log(delay=delay, lag=lag, step=step, lambda_noise=noise, mixture=_sharp)
        pulls = []
        for k, rate in enumerate(rates):
            one = replace(log, rate=rate, seed=100 * seed + k, cuts=_cuts(k) if way == "breaks" else ())
            pulls.append(read_pull(write_log(tmp_path / "a.csv", one.columns())))
        found = estimate_lag([pulls])
        late.append((found.total - delay - lag, found.total_sd))
        split.append(((found.lag - lag) / lag, found.lag_sd / lag))
    late, split = np.array(late), np.array(split)
    assert np.mean(np.abs(late[:, 0]) <= SECONDS) >= 0.95
    assert np.mean(np.abs(split[:, 0]) <= SHARE) >= 0.90
    assert abs(late[:, 0].mean()) < 0.003
    for error, said in (late.T, split.T):
        assert (0.3 if way == "breaks" else 0.5) < np.sqrt(np.mean((error / said) ** 2)) < 1.5


def test_a_hole_is_no_break_and_a_cut_is():
    log = Log(noise=0.006, torque=with_dip(smooth_torque, 3500.0, 0.15, 400.0), rate=700.0, step=0.02)
    for cuts, count in (((), 0), ((2.0, 4.0), 2)):
        columns = replace(log, cuts=cuts).columns()
        late = columns["time"] > 0.8
        assert len(torque_breaks(columns["time"][late], columns["torque"][late])) == count


def test_breaks_that_lambda_does_not_answer_show_nothing(tmp_path):
    columns = [Log(seed=k, cuts=(3.0, 5.0)).columns() | {"lambda": Log(seed=k).columns()["lambda"]} for k in range(3)]
    pulls = [read_pull(write_log(tmp_path / f"{k}.csv", each)) for k, each in enumerate(columns)]
    assert estimate_lag([pulls]).method == "prior"


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


@pytest.mark.parametrize(("noise", "step"), [(0.002, 0.02), (0.008, 0.02), (0.004, 0.05)])
@pytest.mark.parametrize("off", [0.0, 0.04])
def test_the_error_of_unlagging_is_as_large_as_said(tmp_path, noise, step, off):
    # off: delay taken wrong by one standard deviation
    errors, said = [], []
    for seed in range(6):
        log = Log(delay=0.15, lag=0.1, lambda_noise=noise, step=step, seed=seed)
        pull = read_pull(write_log(tmp_path / "a.csv", log.columns()))
        assert pull.mixture is not None
        speed, sharp = unlagged(pull, pull.mixture, 0.15 + off, 0.1)
        sd = unlagged_sd(pull, pull.mixture, 0.1, off)
        inside = (speed > 2300.0) & (speed < 5700.0)
        errors.append((sharp - log.mixture(speed))[inside])
        said.append(sd[inside])
    ratio = np.concatenate(errors) / np.concatenate(said)
    assert 0.8 < np.sqrt(np.mean(ratio**2)) < 1.2
    assert np.mean(np.abs(ratio) < 1.96) > 0.9


def _dip(speed: np.ndarray, mixture: np.ndarray) -> float:
    """Centre of the dip, weighted by its depth."""
    depth = np.maximum(0.0, np.percentile(mixture, 80) - mixture - 0.02)
    return float((depth * speed).sum() / depth.sum())
