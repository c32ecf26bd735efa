"""What was heard, as plain data for programs."""

from __future__ import annotations

from typing import Any

import numpy as np

from pulsewright.sound.at_a_speed import LOWEST_BAND
from pulsewright.sound.listen import (
    DIFFERENCE_BAND,
    HARSH_FROM,
    LEVEL_BAND,
    NOT_IN_IT,
    Listening,
    differences,
    differences_above,
)
from pulsewright.sound.places import END_HEIGHT, ENDS_APART, MOUTH_HEIGHT, PLACES, Place
from pulsewright.sound.record_speeds import intake_ahead
from pulsewright.sound.third_octaves import bands_within
from pulsewright.sound.tone_lines import SILENCE

FORMAT = "pulsewright sound 1"
ORDERS = 12  # loudest ones that are listed


def as_json(heard: list[Listening]) -> dict[str, Any]:
    """One object; levels in dB(A), lists over `rpm`, null for a band without a line."""
    highest = heard[0].sounds[0].highest
    return {
        "format": FORMAT,
        "rpm": [sound.rpm for sound in heard[0].sounds],
        "highest_hz": highest,
        "bands_hz": [band.name for band in bands_within(LOWEST_BAND, highest)],
        "setups": [_setup(each) for each in heard],
        "difference": _differences(heard) if len(heard) == 2 else None,
        "difference_above": _differences_above(heard) if len(heard) == 2 else None,
        "level_band_db": LEVEL_BAND,
        "difference_band_db": DIFFERENCE_BAND,
        "places": {p.key: p.words for p in PLACES},
        "assumed": assumed(heard[0]),
        "not_in_it": NOT_IN_IT,
    }


def _differences(heard: list[Listening]) -> dict[str, list[float]]:
    return {place.key: differences(heard[0], heard[1], place.key) for place in PLACES}


def _differences_above(heard: list[Listening]) -> dict[str, Any]:
    above = {place.key: differences_above(heard[0], heard[1], place.key) for place in PLACES}
    return {"hz": HARSH_FROM, **above}


def assumed(heard: Listening) -> dict[str, float]:
    """Where the ends lie. [m]"""
    return {
        "exhaust_end_height_m": END_HEIGHT,
        "intake_mouth_height_m": MOUTH_HEIGHT,
        "ends_apart_m": ENDS_APART,
        "intake_ahead_m": intake_ahead(heard.setup),
    }


def _setup(each: Listening) -> dict[str, Any]:
    return {
        "name": each.setup.name,
        "outcome": each.outcomes,
        "repeats": [sound.repeats for sound in each.sounds],
        "sound_power_w": [sound.power for sound in each.sounds],
        **{place.key: _at(each, place) for place in PLACES},
    }


def _at(each: Listening, place: Place) -> dict[str, Any]:
    heard = [sound.heard[place.key] for sound in each.sounds]
    bands = [[level for _, level in h.bands(s.highest)] for h, s in zip(heard, each.sounds, strict=True)]
    return {
        "level": [h.level for h in heard],
        "level_unweighted": [h.lines.level for h in heard],
        "exhaust": [h.by_side["exhaust"] for h in heard],
        "intake": [_or_nothing(h.by_side["intake"]) for h in heard],
        "orders": [[{"order": o.order, "hz": o.frequency, "level": o.level} for o in h.loudest(ORDERS)] for h in heard],
        "bands": [[_or_nothing(level) for level in row] for row in bands],
    }


def _or_nothing(level: float) -> float:
    """Not a number, and so null, where there is no sound at all."""
    return np.nan if level <= SILENCE else level
