"""What a sound level meter does: A-weighting, third-octave bands, and the level of the simplest source."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.sound.a_weighting import a_weight
from pulsewright.sound.monopole import heard
from pulsewright.sound.third_octaves import Band
from pulsewright.sound.tone_lines import QUIET, ToneLines, line_frequencies, lines_of

WEIGHTS = "IEC 61672-1:2013, table 3 (from memory)"
BANDS = "IEC 61260-1:2014, base ten; exact values of ISO 3 (from memory)"
SOURCE = "sinusoidal monopole, closed form: Lighthill, Waves in Fluids (1978), sect. 1.4 (from memory)"
SOUND_SPEED = 343.2  # [m/s]
RPM, SAMPLES = 3000.0, 720
FLOW = 0.01  # [kg/s] amplitude of the source


def checks() -> Iterator[Check]:
    """The meter, then a source of which everything is known."""
    rows = table("third_octaves")
    found = [float(a_weight(_band(r["exact_Hz"]).middle)) for r in rows]
    yield worst(
        "A-weighting at the exact mid-band frequency, dB, to the rounding of the table",
        WEIGHTS,
        ((f"{r['nominal_Hz']:g} Hz", r["A_dB"], got) for r, got in zip(rows, found, strict=True)),
        0.05 + 1e-6,
        "absolute",
    )
    yield Check(
        what="A-weighting, largest share of a class 1 meter's limit that is used up",
        source=WEIGHTS,
        expected=1.0,
        got=max(_share(r, got) for r, got in zip(rows, found, strict=True)),
        tolerance=0.0,
        kind="at most",
    )
    yield worst(
        "exact mid-band frequencies",
        BANDS,
        ((f"{r['nominal_Hz']:g} Hz", r["exact_Hz"], _band(r["exact_Hz"]).middle) for r in rows),
        3e-5,
    )
    yield worst(
        "nominal mid-band frequencies",
        BANDS,
        ((f"{r['exact_Hz']:g} Hz", r["nominal_Hz"], _band(r["exact_Hz"]).name) for r in rows),
        1e-12,
    )
    for what, got, expected in (("lower", Band(0).low, 891.25), ("upper", Band(0).high, 1122.02)):
        yield Check(what=f"{what} edge of the band of 1 kHz", source=BANDS, expected=expected, got=got, tolerance=1e-5)
    yield from _monopole()


def _band(frequency: float) -> Band:
    return Band(round(10.0 * math.log10(frequency / 1000.0)))


def _share(row: dict, got: float) -> float:
    """How much of the limit on its side the difference from the table takes."""
    off = got - row["A_dB"]
    return abs(off) / (row["class1_above_dB"] if off > 0.0 else row["class1_below_dB"])


def _monopole() -> Iterator[Check]:
    """Level of a source that swings at one order, from 720 samples of its flow to the level."""
    for order, distance in ((1.0, 0.5), (1.0, 7.5), (2.5, 7.5), (20.0, 0.5)):
        frequency = order * RPM / 60.0
        yield Check(
            what=f"level of a sinusoidal monopole, {frequency:g} Hz at {distance:g} m, dB",
            source=SOURCE,
            expected=20.0 * math.log10(frequency * FLOW / (2.0 * math.sqrt(2.0) * distance * QUIET)),
            got=level_of_source(order, (distance,)),
            tolerance=0.1,
            kind="absolute",
        )
    yield Check(
        what="a source on hard ground over one in free air, dB",
        source="image source: twice the pressure, 20 lg 2",
        expected=6.0206,
        got=level_of_source(2.0, (7.5, 7.5)) - level_of_source(2.0, (7.5,)),
        tolerance=1e-3,
        kind="absolute",
    )


def level_of_source(order: float, paths: tuple[float, ...]) -> float:
    """Level where the sound of a swinging source arrives along `paths` [m]. [dB]"""
    flow = FLOW * np.sin(2.0 * np.pi * 2.0 * order * np.arange(SAMPLES) / SAMPLES)
    lines = lines_of(flow, 2500.0, RPM)
    return ToneLines(RPM, heard(lines, line_frequencies(RPM, lines.size), paths, SOUND_SPEED)).level
