"""Lines, bands and levels of sounds of which everything is known."""

import numpy as np
import pytest

from pulsewright.sound.a_weighting import a_weight
from pulsewright.sound.monopole import heard, radiated_power
from pulsewright.sound.places import FAR, NEAR, exhaust_end, intake_mouth, paths
from pulsewright.sound.stationary_speed import stationary_speed
from pulsewright.sound.third_octaves import Band, band_powers, bands_within
from pulsewright.sound.tone_lines import SILENCE, ToneLines, level_of, line_frequencies, lines_of


def swing(order: float, samples: int = 720) -> np.ndarray:
    """A cosine of one crank order over a cycle of two turns."""
    return np.cos(2.0 * np.pi * 2.0 * order * np.arange(samples) / samples)


@pytest.mark.parametrize(("cylinders", "rpm", "hertz"), [(1, 3000.0, 25.0), (2, 3000.0, 50.0), (4, 6000.0, 200.0)])
def test_firing_order_is_half_the_number_of_cylinders(cylinders: int, rpm: float, hertz: float):
    """A four-stroke fires every cylinder once in two turns: rpm / 60 * cylinders / 2 hertz, exactly."""
    lines = ToneLines(rpm, lines_of(swing(0.5 * cylinders), 1000.0, rpm))
    loudest = int(np.argmax(lines.powers))
    assert lines.frequencies[loudest] == hertz
    assert lines.orders[loudest] == 0.5 * cylinders
    assert np.abs(lines.pressure[loudest]) == pytest.approx(1.0, abs=1e-12)
    assert np.sum(np.delete(lines.powers, loudest)) < 1e-24


def test_lines_end_at_the_limit_and_hold_all_power_below_it():
    rng = np.random.default_rng(3)
    cycle = rng.normal(size=720)
    all_lines = lines_of(cycle, 1e9, 3000.0)
    assert lines_of(cycle, 1000.0, 3000.0).size == 40  # 25 Hz apart, the last one on the limit
    mean, nyquist = cycle.mean(), np.mean(cycle * np.cos(np.pi * np.arange(720)))
    assert ToneLines(3000.0, all_lines).powers.sum() == pytest.approx(np.mean(cycle**2) - mean**2 - nyquist**2)


def test_a_pascal_is_94_decibels_and_nothing_is_silence():
    assert level_of(1.0) == pytest.approx(93.98, abs=0.005)
    assert level_of(0.0) == SILENCE


def test_every_line_falls_into_one_band():
    bands = bands_within(22.0, 2300.0)
    assert [band.name for band in bands][:4] == [25.0, 31.5, 40.0, 50.0]
    assert [band.name for band in bands][-1] == 2000.0
    assert bands[-1].high <= 2300.0
    frequencies = line_frequencies(1800.0, 130)
    inside = (frequencies >= bands[0].low) & (frequencies < bands[-1].high)
    powers = np.random.default_rng(1).uniform(size=frequencies.size)
    assert band_powers(frequencies, powers, bands).sum() == pytest.approx(powers[inside].sum())
    assert Band(1).low == pytest.approx(Band(0).high)


def test_pressure_is_the_late_change_of_the_flow():
    """p(t) = dm/dt (t - r/c) / (4 pi r), line by line and as a function of time."""
    rpm, c, r = 2400.0, 340.0, 1.7
    flow = 0.3 * swing(1.5) + 0.1 * np.roll(swing(4.0), 31)
    frequencies = line_frequencies(rpm, 40)
    pressure = heard(lines_of(flow, frequencies[-1], rpm), frequencies, (r,), c)
    late = 6.0 * rpm * r / c  # [deg]
    degrees = np.arange(720.0)
    angle = np.radians(degrees - late)
    per_second = 2.0 * np.pi * rpm / 60.0
    change = -0.3 * 1.5 * np.sin(1.5 * angle) - 0.1 * 4.0 * np.sin(4.0 * (angle - np.radians(31.0)))
    expected = per_second * change / (4.0 * np.pi * r)
    turned = np.exp(1j * np.outer(np.radians(degrees), 0.5 * np.arange(1, 41)))
    np.testing.assert_allclose((turned @ pressure).real, expected, atol=1e-9)


def test_sound_power_is_the_intensity_over_the_whole_sphere():
    f, flow, c, rho, r = np.array([180.0]), np.array([0.02 + 0.01j]), 343.0, 1.2, 3.0
    rms2 = 0.5 * abs(heard(flow, f, (r,), c)[0]) ** 2
    assert radiated_power(flow, f, rho, c)[0] == pytest.approx(4.0 * np.pi * r**2 * rms2 / (rho * c))


def test_the_image_lies_as_far_under_the_ground():
    straight, over_ground = paths(exhaust_end(0), NEAR)
    assert straight == pytest.approx(0.5)
    assert over_ground == pytest.approx(np.hypot(0.5, 0.7))
    assert paths(exhaust_end(0), FAR)[0] == pytest.approx(np.hypot(7.5, 0.85))
    assert paths(intake_mouth(0, 0.9), FAR)[1] == pytest.approx(np.sqrt(0.9**2 + 7.5**2 + 1.8**2))


def test_weights_fall_to_both_sides():
    assert a_weight(1000.0) == 0.0
    assert np.all(np.diff(a_weight(np.array([20.0, 50.0, 200.0, 1000.0]))) > 0.0)
    assert a_weight(12000.0) < a_weight(6000.0) < a_weight(2500.0)


@pytest.mark.parametrize(("rated", "held"), [(4800.0, 3600.0), (5000.0, 3750.0), (5200.0, 2600.0), (9000.0, 4500.0)])
def test_speed_of_the_stationary_test(rated: float, held: float):
    """UN Regulation 41, annex 3 (from memory)."""
    assert stationary_speed(rated) == held
