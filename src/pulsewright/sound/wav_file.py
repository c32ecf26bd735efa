"""Pressure over time as a WAV file: one channel of 16 bits."""

from __future__ import annotations

import wave
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

RATE = 48_000  # [1/s]
PEAK = 0.89  # of what 16 bits hold, 1 dB below it
PAUSE = 0.5  # [s] between two machines
LARGEST = 32_767


def one_after_the_other(parts: Sequence[Floats], rate: int = RATE) -> Floats:
    """Pressures of several machines with a pause between them. (samples,) [Pa]"""
    silence = np.zeros(round(PAUSE * rate))
    pieces = [piece for part in parts for piece in (silence, part)]
    return np.concatenate(pieces[1:])


def write_wav(file: Path, pressure: Floats, rate: int = RATE) -> float:
    """Write pressure [Pa] with its loudest moment at `PEAK`; returns the pressure of full scale. [Pa]

    All of `pressure` takes one scale, so what is louder sounds louder.
    """
    loudest = float(np.max(np.abs(pressure)))
    full_scale = loudest / PEAK if loudest > 0.0 else 1.0
    samples = np.round(LARGEST * pressure / full_scale).astype("<i2")
    with wave.open(str(file), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(samples.tobytes())
    return full_scale
