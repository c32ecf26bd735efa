"""A pulse of sound sent through a rig, and what comes back and gets through, frequency by frequency.

Both waves are told apart in one cell from pressure and speed, so no time window has to separate them;
the ends that the sound leaves by send nothing back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pulsewright.network.assembly import DuctRef
from pulsewright.outside.tube_rig import Numbers, Rig

Spectrum = npt.NDArray[np.complex128]

PRESSURE = 100_000.0  # [Pa]
SOUND_SPEED = 343.2  # [m/s] of the tables
GAMMA = 1.4
GAS_CONSTANT = 287.05
TEMPERATURE = SOUND_SPEED**2 / (GAMMA * GAS_CONSTANT)
PULSE = 5.0  # [Pa] so small that nothing but linear sound is left
PULSE_WIDTH = 0.025  # [m]


def sound_rig() -> Rig:
    """An empty rig of still gas with the sound speed of the tables."""
    return Rig(gamma=GAMMA, gas_constant=GAS_CONSTANT, p=PRESSURE, T=TEMPERATURE)


@dataclass(frozen=True, slots=True)
class Waves:
    """Pressure of the waves that run with and against the duct in one cell, over time. [Pa]"""

    step: float  # [s]
    with_duct: Numbers
    against: Numbers

    def at(self, frequency: float, wave: Numbers) -> complex:
        """Fourier integral of a wave at one frequency [Hz]. [Pa s]"""
        t = np.arange(wave.size) * self.step
        return complex(np.sum(wave * np.exp(-2j * math.pi * frequency * t)) * self.step)


def add_pulse(rig: Rig, duct: DuctRef, place: float, height: float = PULSE, width: float = PULSE_WIDTH) -> None:
    """Add a pulse that runs with the duct to whatever is in it."""
    rho, u, p, a = (rig.field(duct, name) for name in ("rho", "u", "p", "sound"))
    more = height * np.exp(-0.5 * ((duct.places - place) / width) ** 2)
    rig.fill(duct, rho + more / a**2, u + more / (rho * a), p + more)


def listen(rig: Rig, cells: list[int], seconds: float, highest: float = 1.0) -> list[Waves]:
    """Both waves in some cells from now on; the state at the start counts as silence."""
    calm_p, calm_u = rig.c["p"][cells].copy(), rig.c["u"][cells].copy()
    step = rig.safe_step(highest)
    impedance = (rig.c["rho"] * rig.c["sound"])[cells]
    p, u = rig.record(cells, seconds, step)
    p, u = p - calm_p, (u - calm_u) * impedance
    return [Waves(step, 0.5 * (p + u)[:, n], 0.5 * (p - u)[:, n]) for n in range(len(cells))]
