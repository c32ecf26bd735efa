"""Contrast ratios follow WCAG 2.2: relative luminance, 4.5 to 1 for text (success criterion 1.4.3)."""

import numpy as np
import pytest

from pulsewright.figures.palette import (
    OVERPRESSURE,
    SUCTION,
    THEMES,
    Theme,
    css_variables,
    full_scale,
    pressure_colours,
)


def luminance(colour: str) -> float:
    channels = np.array([int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)])
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white_is_the_published_21():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
@pytest.mark.parametrize("name", ["ink", "faint", "before", "after", "other", "fourth", "fifth"])
def test_text_and_lines_stand_out_from_card_and_sheet(theme: Theme, name: str):
    assert contrast(getattr(theme, name), theme.card) >= 4.5
    assert contrast(getattr(theme, name), theme.sheet) >= 4.5


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_small_words_stay_readable_on_the_shaded_bands(theme: Theme):
    assert contrast(theme.faint, theme.band) >= 4.5
    assert contrast(theme.faint, theme.hole) >= 4.4


def test_pressure_is_orange_suction_blue_and_nothing_is_clear():
    above, below, still = pressure_colours(np.array([1.0, -1.0, 0.0]))
    assert tuple(above) == (*OVERPRESSURE, 255)
    assert tuple(below) == (*SUCTION, 255)
    assert still[3] == 0


def test_colour_deepens_with_pressure_and_holds_beyond_full_scale():
    depth = pressure_colours(np.linspace(0.0, 2.0, 41))[:, 3].astype(int)
    assert (np.diff(depth) >= 0).all()
    assert depth[20] == depth[40] == 255


def test_full_scale_is_a_round_number_that_covers_all_but_spikes():
    pressures = np.linspace(-41_000.0, 30_000.0, 1000)
    assert full_scale(pressures) == 50_000.0
    pressures[0] = 9e6
    assert full_scale(pressures) == 50_000.0
    assert full_scale(np.zeros(10)) > 0.0


def test_every_colour_becomes_a_variable():
    said = css_variables(THEMES["paper"])
    assert all(f"--pw-{name}: #" in said for name in Theme.__dataclass_fields__)
