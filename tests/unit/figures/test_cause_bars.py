"""Bars as long as their shares, with their intervals."""

from xml.etree import ElementTree

import pytest

from pulsewright.figures import words
from pulsewright.figures.cause_bars import Bar, cause_bars

BARS = [
    Bar(cause="mixture", share=0.2, low=0.1, high=0.3),
    Bar(cause="exhaust wave", share=0.8, low=0.7, high=0.9),
]


def elements(drawing, name):
    return [e for e in ElementTree.fromstring(drawing).iter() if e.tag.endswith("}" + name)]


def test_lengths_follow_shares_and_the_largest_comes_first():
    long, short = (float(e.get("width", "")) for e in elements(cause_bars(BARS), "rect"))
    assert long / short == pytest.approx(4.0, rel=0.01)
    assert elements(cause_bars(BARS), "text")[0].text == "exhaust wave: 80\u202f% (70–90\u202f%)"


def test_intervals_are_on_the_scale_of_the_bars():
    drawing = cause_bars(BARS)
    bar = float(elements(drawing, "rect")[0].get("width", ""))
    marks = [e for e in elements(drawing, "line") if e.get("y1") == e.get("y2")]
    span = float(marks[0].get("x2", "")) - float(marks[0].get("x1", ""))
    assert span / bar == pytest.approx(0.2 / 0.8, rel=0.01)


def test_a_share_below_zero_grows_to_the_left_and_stays_on_the_sheet():
    drawing = cause_bars([Bar(cause="a", share=1.2), Bar(cause="b", share=-0.2)])
    lefts = [float(e.get("x", "")) for e in elements(drawing, "rect")]
    assert 0.0 <= lefts[1] < lefts[0]


def test_no_bars_read_as_a_sentence_and_names_are_escaped():
    assert words.NO_SHARES in cause_bars([])
    assert "<b>" not in cause_bars([Bar(cause="<b>bold</b>", share=0.5)])
