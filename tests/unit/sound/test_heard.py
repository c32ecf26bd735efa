"""Sound files: length, rate, tones, one scale, and nothing that clicks."""

import wave
from pathlib import Path

import numpy as np
import pytest

from pulsewright.sound.resynthesis import FADE, pressure_over_time, steady_speed, swept_speed
from pulsewright.sound.tone_lines import ToneLines
from pulsewright.sound.wav_file import PAUSE, PEAK, RATE, one_after_the_other, write_wav


def spectrum(rpm: float, lines: int = 40) -> ToneLines:
    """Line n is as strong as 1 / n."""
    n = np.arange(1.0, lines + 1.0)
    return ToneLines(rpm, (1.0 / n).astype(np.complex128))


def read(file: Path) -> tuple[np.ndarray, int]:
    with wave.open(str(file)) as source:
        assert (source.getnchannels(), source.getsampwidth()) == (1, 2)
        return np.frombuffer(source.readframes(source.getnframes()), "<i2") / 32767.0, source.getframerate()


def test_a_steady_speed_has_its_lines_and_nothing_else(tmp_path: Path):
    rpm, seconds = 3000.0, 2.0
    tones = pressure_over_time([spectrum(rpm)], steady_speed(rpm, seconds, RATE), RATE)
    write_wav(tmp_path / "steady.wav", tones)
    samples, rate = read(tmp_path / "steady.wav")
    assert rate == 48_000
    assert samples.size == 96_000
    middle = samples[24_000:72_000]  # one second, so that a bin is a hertz
    strength = np.abs(np.fft.rfft(middle)) / 24_000
    tones_at = 25 * np.arange(1, 41)
    assert sorted(np.argsort(-strength)[:40]) == list(tones_at)
    np.testing.assert_allclose(strength[tones_at] * tones_at / (strength[25] * 25), 1.0, rtol=0.01)
    assert np.delete(strength, tones_at).max() < 2e-5  # rounding to 16 bits


def test_between_two_speeds_strength_is_between_and_no_line_vanishes():
    """Opposite phases would wipe a line out if cycles were mixed; strength and phase apart do not."""
    two = [spectrum(2000.0), ToneLines(2100.0, -spectrum(2000.0).pressure)]
    sound = pressure_over_time(two, steady_speed(2050.0, 1.2, RATE), RATE)
    strength = np.abs(np.fft.rfft(sound[4800:52_800]))
    assert strength.max() / 24_000 == pytest.approx(1.0, rel=0.05)


def test_a_sweep_keeps_its_phase_and_ends_at_its_speed():
    sweep = swept_speed(1500.0, 6000.0, 4.0, RATE)
    only = [ToneLines(rpm, np.array([0.0, 1.0 + 0.0j])) for rpm in (1500.0, 6000.0)]  # order 1
    sound = pressure_over_time(only, sweep, RATE)
    inside = sound[round(FADE * RATE) : -round(FADE * RATE)]
    turns = np.count_nonzero((inside[1:] >= 0.0) & (inside[:-1] < 0.0))
    assert turns == pytest.approx(np.sum(sweep) / 60.0 / RATE, abs=5)  # turns of the crank, less those in the fades
    assert np.abs(np.diff(inside)).max() <= 2.0 * np.pi * 100.0 / RATE * 1.001  # a tone of 100 Hz is the steepest


def test_a_line_that_ends_at_the_limit_fades_instead_of_clicking():
    known = [spectrum(2000.0, 40), spectrum(2100.0, 38)]
    sound = pressure_over_time(known, swept_speed(2000.0, 2100.0, 2.0, RATE), RATE)
    steep = np.abs(np.diff(pressure_over_time(known[:1], steady_speed(2100.0, 2.0, RATE), RATE))).max()
    assert np.abs(np.diff(sound)).max() < 1.1 * steep


def test_it_starts_and_ends_in_silence():
    sound = pressure_over_time([spectrum(3000.0)], steady_speed(3000.0, 1.0, RATE), RATE)
    assert abs(sound[0]) < 1e-12
    assert abs(sound[-1]) < 1e-3


def test_two_machines_share_one_scale(tmp_path: Path):
    loud = pressure_over_time([spectrum(3000.0)], steady_speed(3000.0, 1.0, RATE), RATE)
    full_scale = write_wav(tmp_path / "two.wav", one_after_the_other([loud, 0.25 * loud]))
    samples, _ = read(tmp_path / "two.wav")
    second = 48_000 + round(PAUSE * RATE)
    assert samples.size == second + 48_000
    assert np.abs(samples).max() == pytest.approx(PEAK, abs=1e-4)
    assert np.abs(samples[second:]).max() == pytest.approx(0.25 * PEAK, abs=1e-4)
    assert not samples[48_000:second].any()
    assert full_scale == pytest.approx(np.abs(loud).max() / PEAK)


def test_silence_can_be_written(tmp_path: Path):
    assert write_wav(tmp_path / "nothing.wav", np.zeros(480)) == 1.0
    assert not read(tmp_path / "nothing.wav")[0].any()
