"""Setups to sounds in one call, all of them in the same band, and what one does to the sound of the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pulsewright.bench.exhaust import Insert, Muffler
from pulsewright.bench.setup import Setup
from pulsewright.sound.at_a_speed import SpeedSound, sound_of
from pulsewright.sound.open_ends import Recording
from pulsewright.sound.record_speeds import intake_ahead, record_speeds
from pulsewright.sound.tone_lines import ToneLines

Progress = Callable[[int, int, float], None]  # speeds done, speeds in all, last speed

# Our own estimates: no measured engine stands behind them.
LEVEL_BAND = 6.0  # [dB] within which we believe an absolute level, assumed
DIFFERENCE_BAND = 3.0  # [dB] the same for the difference of two setups of one engine, assumed
# From here up a body with packing takes more than an empty one, by the formula of perforated cores for usual sizes.
HARSH_FROM = 700.0  # [Hz]
SWEEP_STEP = 1.04  # ratio of neighbouring speeds of a sweep
NOT_IN_IT = "noise of the jet behind the end, of muffler walls, valves, gears, chain and tyres"
PERFORATED_CORE = (
    "a packed or louvred core takes far less from a fast hot stream than from still air, as the published formula has "
    "it too. Without its packing a body takes more below some 700 Hz and less above, by the formula too: worn packing "
    "is heard as harsh, and as louder (common practice), where the high part counts, of which the model has too little"
)


@dataclass(frozen=True, slots=True)
class Listening:
    """One setup at every speed asked for."""

    setup: Setup
    sounds: list[SpeedSound]
    outcomes: list[str]

    @property
    def has_perforated_core(self) -> bool:
        """True where the exhaust has a packed or louvred core."""
        routes = [*self.setup.exhaust.route.values(), *self.setup.exhaust.after.values()]
        pieces = [piece for route in routes for piece in route]
        return any(
            (isinstance(p, Muffler) and p.core != "baffled") or (isinstance(p, Insert) and p.packed) for p in pieces
        )

    def spectra(self, place: str) -> list[ToneLines]:
        """Spectra at a place, at rising engine speeds."""
        return sorted((s.heard[place].lines for s in self.sounds), key=lambda lines: lines.rpm)


def listen(setups: Sequence[Setup], speeds: Sequence[float], progress: Progress | None = None) -> list[Listening]:
    """Sound of every setup at engine speeds [rpm], all up to the same frequency.

    Raises UsageError where the model has no answer, InputError where an exhaust ends nowhere in the open.
    """

    def tell(done: int, _in_all: int, rpm: float) -> None:
        if progress is not None:
            progress(len(recorded) * len(speeds) + done, len(setups) * len(speeds), rpm)

    recorded: list[tuple[list[Recording], list[str]]] = []
    for setup in setups:
        recorded.append(record_speeds(setup, speeds, tell))
    highest = min(recording.highest for recordings, _ in recorded for recording in recordings)
    return [
        Listening(setup, [sound_of(r, highest, intake_ahead(setup)) for r in recordings], outcomes)
        for setup, (recordings, outcomes) in zip(setups, recorded, strict=True)
    ]


def differences(before: Listening, after: Listening, place: str) -> list[float]:
    """How much louder the second setup is, speed by speed. [dB]"""
    pairs = zip(before.sounds, after.sounds, strict=True)
    return [b.heard[place].level - a.heard[place].level for a, b in pairs]


def differences_above(before: Listening, after: Listening, place: str, frequency: float = HARSH_FROM) -> list[float]:
    """The same of what lies above a frequency [Hz] alone. [dB]"""
    pairs = zip(before.sounds, after.sounds, strict=True)
    return [b.heard[place].lines.level_above(frequency) - a.heard[place].lines.level_above(frequency) for a, b in pairs]


def sweep_speeds(rpm_from: float, rpm_to: float) -> list[float]:
    """Rising engine speeds that a sweep between two speeds is drawn through. [rpm]"""
    low, high = sorted((rpm_from, rpm_to))
    steps = max(1, math.ceil(math.log(high / low) / math.log(SWEEP_STEP)))
    return [low * (high / low) ** (n / steps) for n in range(steps)] + [high]
