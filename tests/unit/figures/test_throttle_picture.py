"""The map picture: bars as long as their shares, wide open on top, letters beside colours."""

from xml.etree import ElementTree

import numpy as np
import pytest

from pulsewright.figures.throttle_picture import TONES, throttle_picture
from pulsewright.simulate.throttle_map import CURVES, IDLE, MAIN, NEEDLE, ThrottleMap

NAN = float("nan")


@pytest.fixture
def drawing() -> ElementTree.Element:
    """Two openings and two speeds; at one of them no fuel flows."""
    shares = {
        MAIN: np.array([[0.1, 0.2], [0.7, NAN]]),
        NEEDLE: np.array([[0.3, 0.5], [0.2, NAN]]),
        IDLE: np.array([[0.6, 0.3], [0.1, NAN]]),
    }
    curves = {name: np.full((2, 2), 0.87) for name in CURVES}
    found = ThrottleMap(
        throttle=np.array([0.1, 1.0]), rpm=np.array([2000.0, 4000.0]), curves=curves, fuel_share=shares,
        outcome=(("converged",) * 2,) * 2, assumptions=(),
    )  # fmt: skip
    return ElementTree.fromstring(throttle_picture(found, "twin & <single>"))


def of_kind(drawing: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [e for e in drawing.iter() if e.tag.endswith("}" + name)]


def test_bars_are_as_long_as_their_shares(drawing):
    bars = [e for e in of_kind(drawing, "rect") if e.get("height") == "18.0"]
    assert len(bars) == 9  # nothing where no fuel flows
    first = [float(e.get("width", "")) for e in bars[:3]]
    assert first[0] / sum(first) == pytest.approx(0.7, abs=1e-3)
    assert first[1] / first[2] == pytest.approx(2.0, rel=1e-2)


def test_wide_open_stands_on_top_and_the_ruler_bears_its_letter(drawing):
    texts = [(e.text or "", float(e.get("y", ""))) for e in of_kind(drawing, "text")]
    heights = dict(texts)
    assert heights["100 %"] < heights["10 %"]
    letters = [words for words, _ in texts if words in {letter for _, letter in TONES.values()}]
    assert letters == ["M", "I", "N"]
    assert sum(words == "0.87" for words, _ in texts) == 3
    assert drawing.get("aria-label") == "twin & <single>"
