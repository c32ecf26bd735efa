"""Colours of the two themes, warm paper and dark slate, and the blue-orange scale for pressure.

Blue and orange stay apart for every common kind of colour blindness, and everything that a colour says is
said a second time: by dashes, by width, by a label or by position.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """Colours of one theme, as `#rrggbb`. The field names are the names of the CSS variables too."""

    sheet: str  # the page
    card: str  # what pictures and text lie on
    ink: str  # text and outlines
    faint: str  # second text, rules; still readable on the card
    line: str  # grid
    before: str  # the machine as it came
    after: str  # with the change
    other: str  # without the echo; a third curve
    fourth: str
    fifth: str
    band: str  # riding band
    hole: str  # the hole
    metal: str  # pipe walls


PAPER = Theme(
    sheet="#eeeae0",
    card="#fbf9f2",
    ink="#1e2a32",
    faint="#59636a",
    line="#d9d4c7",
    before="#0d5a73",
    after="#a8440f",
    other="#5f6770",
    fourth="#6b4a8c",
    fifth="#6a6411",
    band="#f0e9d6",
    hole="#ead9bf",
    metal="#1f2a31",
)
SLATE = Theme(
    sheet="#141b20",
    card="#1e2930",
    ink="#ece7da",
    faint="#a9b3b8",
    line="#37444c",
    before="#7cc3e0",
    after="#f2925a",
    other="#b4bcc2",
    fourth="#c7a8e6",
    fifth="#d0c667",
    band="#2a3439",
    hole="#3d3a34",
    metal="#dcd7ca",
)
THEMES = {"paper": PAPER, "slate": SLATE}

# Middle tones: both stand out on paper and on slate, so one picture serves both themes.
OVERPRESSURE = (214, 96, 30)  # orange
SUCTION = (30, 118, 178)  # blue
OPACITY_POWER = 0.75  # below 1: a weak echo beside a strong blow-down stays visible


def pressure_colours(part_of_full_scale: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Orange above the surrounding pressure, blue below it, clear where they are equal.

    Parameters
    ----------
    part_of_full_scale : (...) [-] -1 to 1; beyond is drawn as the full colour.

    Returns
    -------
    (..., 4) red, green, blue, opacity; the sheet shows through where nothing happens.
    """
    clipped = np.clip(np.nan_to_num(part_of_full_scale), -1.0, 1.0)
    colours = np.empty((*clipped.shape, 4), dtype=np.uint8)
    colours[..., :3] = np.where(clipped[..., None] >= 0.0, OVERPRESSURE, SUCTION)
    colours[..., 3] = 3 * np.round(85.0 * np.abs(clipped) ** OPACITY_POWER)  # 85 steps pack well, none is seen
    return colours


def full_scale(*pressures: NDArray[np.float64]) -> float:
    """One colour scale for all the fields given, deaf to the last one per cent of spikes. [Pa]"""
    largest = max(float(np.percentile(np.abs(p), 99.0)) for p in pressures)
    return max(_round_up(largest), 100.0)


def _round_up(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8, 10 times a power of ten."""
    if value <= 0.0:
        return 0.0
    decade = 10.0 ** np.floor(np.log10(value))
    steps = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0])
    return float(decade * steps[np.searchsorted(steps, value / decade - 1e-9)])


def css_variables(theme: Theme) -> str:
    """The theme as CSS custom properties, `--pw-ink: #1e2a32; ...`."""
    names = Theme.__dataclass_fields__
    return " ".join(f"--pw-{name}: {getattr(theme, name)};" for name in names)
