"""What is heard of a machine at one engine speed: levels, loudest orders, third-octave bands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pulsewright.sound.monopole import heard, radiated_power
from pulsewright.sound.open_ends import EXHAUST, INTAKE, OpenEnd, Recording
from pulsewright.sound.places import PLACES, Place, Point, exhaust_end, intake_mouth, paths
from pulsewright.sound.third_octaves import Band, band_powers, bands_within
from pulsewright.sound.tone_lines import ToneLines, level_of, line_frequencies, lines_of

Floats = npt.NDArray[np.float64]
LOWEST_BAND = 22.0  # [Hz] just under the band of 25 Hz


@dataclass(frozen=True, slots=True)
class Order:
    """One line of the spectrum."""

    order: float  # of crank speed
    frequency: float  # [Hz]
    level: float  # [dB(A)]


@dataclass(frozen=True, slots=True)
class Heard:
    """Sound at one microphone."""

    place: Place
    lines: ToneLines  # of all ends together
    by_side: dict[str, float]  # [dB(A)] exhaust and intake, each alone

    @property
    def level(self) -> float:
        """A-weighted sound pressure level. [dB(A)]"""
        return self.lines.weighted_level

    def loudest(self, count: int) -> list[Order]:
        """The orders that count most for the A-weighted level, loudest first."""
        lines = self.lines
        levels = level_of(lines.weighted_powers)
        rows = np.argsort(-levels)[:count]
        return [Order(float(lines.orders[n]), float(lines.frequencies[n]), float(levels[n])) for n in rows]

    def bands(self, highest: float) -> list[tuple[Band, float]]:
        """Third-octave bands that lie wholly under a frequency [Hz], with their A-weighted levels [dB(A)]."""
        bands = bands_within(LOWEST_BAND, highest)
        levels = level_of(band_powers(self.lines.frequencies, self.lines.weighted_powers, bands))
        return [(band, float(level)) for band, level in zip(bands, levels, strict=True)]


@dataclass(frozen=True, slots=True)
class SpeedSound:
    """Sound of a machine at one engine speed."""

    rpm: float
    highest: float  # [Hz] up to which lines were counted
    repeats: float  # see `Recording`
    power: float  # [W] of the sound that all ends send into free air, each by itself, not weighted
    heard: dict[str, Heard]  # by the key of the place


def sound_of(recording: Recording, highest: float, ahead: float) -> SpeedSound:
    """Sound of one recording at every place.

    highest : frequency that ends the spectrum, the same for all that is to be compared. [Hz]
    ahead : distance of the intake mouths before the exhaust ends. [m]
    """
    flows = [lines_of(end.flow, highest, recording.rpm) for end in recording.ends]
    frequencies = line_frequencies(recording.rpm, flows[0].size)
    power = sum(radiated_power(f, frequencies, recording.density, recording.sound_speed) for f in flows)
    places = {}
    for place in PLACES:
        each = [
            heard(flow, frequencies, paths(_where(end, ahead), place), recording.sound_speed)
            for end, flow in zip(recording.ends, flows, strict=True)
        ]
        by_side = {}
        for side in (EXHAUST, INTAKE):
            mine = [p for end, p in zip(recording.ends, each, strict=True) if end.side == side]
            by_side[side] = ToneLines(recording.rpm, sum(mine, np.zeros_like(flows[0]))).weighted_level
        places[place.key] = Heard(place, ToneLines(recording.rpm, sum(each, np.zeros_like(flows[0]))), by_side)
    return SpeedSound(recording.rpm, highest, recording.repeats, float(np.sum(power)), places)


def _where(end: OpenEnd, ahead: float) -> Point:
    return exhaust_end(end.number) if end.side == EXHAUST else intake_mouth(end.number, ahead)
