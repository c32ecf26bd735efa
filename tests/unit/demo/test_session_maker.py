"""The script that makes the invented day: a short form of it, and the measurement that it puts in between."""

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from tests.session_maker import session_maker

from pulsewright.bench.session import read_session
from pulsewright.pulls.session_pulls import read_session_pulls


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    return session_maker()


def test_a_short_day_can_be_read(maker: ModuleType, tmp_path: Path):
    sheet = (maker.SESSION / "setup.toml").read_text(encoding="utf-8")
    folder = maker.make(tmp_path, sheet=sheet, day="AC", speeds=[1600.0, 3600.0, 5800.0])
    session = read_session(folder)
    pulls = read_session_pulls(session)
    assert [setup.name for setup in session.setups] == ["A", "C"]
    assert session.setup("C").changes
    assert all(pulls.used)
    for curves in pulls.setups.values():
        assert 50.0 < np.nanmean(curves.torque) < 150.0
        assert 0.6 < np.nanmean(curves.mixture) < 1.1


def test_the_kept_session_is_what_the_script_writes(maker: ModuleType):
    """All but the numbers of the pulls, which need the model."""
    assert (maker.SESSION / "session.toml").read_text(encoding="utf-8") == maker.session_text(maker.DAY)
    assert len(list((maker.SESSION / "pulls").iterdir())) == len(maker.DAY)


def step_in_mixture(maker: ModuleType):
    rpm = np.linspace(1600.0, 5800.0, 4201)
    return maker.Truth(rpm=rpm, torque=0.0 * rpm + 100.0, mixture=np.where(rpm < 3500.0, 0.80, 0.90))


def test_the_same_seed_makes_the_same_pull(maker: ModuleType):
    truth, at = step_in_mixture(maker), maker.conditions(3)
    once, again, other = (maker.measure(truth, at, hertz=25.0, seed=s) for s in (1, 1, 2))
    assert all(np.array_equal(once[name], again[name]) for name in once)
    assert not np.array_equal(once["torque"], other["torque"])


def test_the_sensor_is_late_by_its_delay_and_lag(maker: ModuleType):
    """A step is half through after the delay and ln 2 of the time constant (a first-order lag)."""
    seen = maker.measure(step_in_mixture(maker), maker.conditions(3), hertz=500.0, seed=1)
    crossed = seen["time"][np.argmax(np.convolve(seen["lambda"], np.ones(9) / 9, "same") > 0.85 + maker.BIAS)]
    begun = np.interp(3500.0, np.sort(seen["rpm"]), seen["time"])
    assert crossed - begun == pytest.approx(maker.DELAY + np.log(2.0) * maker.LAG, abs=0.02)


def test_noise_within_a_pull_is_correlated_over_its_width(maker: ModuleType):
    noise = maker.correlated(np.random.default_rng(1), 200_000, 0.1)
    assert noise.std() == pytest.approx(1.0, abs=0.05)
    assert np.mean(noise[10:] * noise[:-10]) == pytest.approx(np.exp(-1.0), abs=0.05)


def test_air_moves_the_torque_and_the_cold_head_takes_some(maker: ModuleType):
    truth = step_in_mixture(maker)
    warm = maker.Conditions(temperature=25.0, pressure=99.0, humidity=50.0, head=170.0)
    thin = maker.Conditions(temperature=25.0, pressure=94.05, humidity=50.0, head=170.0)
    cold = maker.Conditions(temperature=25.0, pressure=99.0, humidity=50.0, head=118.0)
    means = [maker.measure(truth, at, hertz=25.0, seed=1)["torque"][100:].mean() for at in (warm, thin, cold)]
    assert means[1] / means[0] == pytest.approx(0.95, rel=1e-6)
    assert 0.975 < means[2] / means[0] < 0.99
