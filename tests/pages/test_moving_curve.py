"""While a dial turns, a line over the chart follows: it stands where the numbers are, and leaves with the hand."""

from __future__ import annotations

from typing import Any

import pytest
from tests.pages.conftest import Visit
from tests.pages.drawn_curves import wait_for_full_curve

MOVE = """to => { const input = document.querySelector("[data-name=pipe-length] input");
  input.value = to; input.dispatchEvent(new Event("input", { bubbles: true })); }"""
LINES = """() => { const plot = document.querySelector(".plot"), on = plot.layout, [from, to] = on.xaxis.range;
  return [...document.querySelectorAll(".moving > svg")].map((box, k) => {
    const w = Number(box.getAttribute("width")), h = Number(box.getAttribute("height"));
    const [low, high] = (k ? on.yaxis2 : on.yaxis).range, d = box.firstChild.getAttribute("d") || "";
    return d.split(/[ML]/).slice(1).map(p => p.split(" ").map(Number)).map(
      ([x, y]) => [from + x / w * (to - from), high - y / h * (high - low)]); }); }"""
# the line over the chart against the areas that plotly.js itself draws in, all in pixels of the window
PLACES = """() => { const outer = document.querySelector(".moving").getBoundingClientRect();
  const ours = [...document.querySelectorAll(".moving > svg")].map(e => { const [x, y, w, h] =
    ["x", "y", "width", "height"].map(n => Number(e.getAttribute(n))); return [outer.left + x, outer.top + y, w, h]; });
  return [ours, [...document.querySelectorAll(".plot .nsewdrag")].map(
    e => { const b = e.getBoundingClientRect(); return [b.left, b.top, b.width, b.height]; })]; }"""


def moved(page: Any, to: float) -> dict[str, Any]:
    """The coarse curve that came for a move."""
    with page.expect_response(lambda r: r.url.endswith("/try.json") and '"drag"' in (r.request.post_data or "")) as got:
        page.evaluate(MOVE, to)
    page.wait_for_selector("[data-change][data-level=drag]")
    return got.value.json()["curve"]


def test_the_moving_line_stands_where_the_numbers_are(visit: Visit):
    page = visit.page
    page.goto("/jobs/1/change")
    wait_for_full_curve(page)
    for to in (860.0, 820.0):
        curve = moved(page, to)
        torque, mixture = page.evaluate(LINES)
        assert [x for x, _ in torque] == pytest.approx(curve["rpm"], abs=2.0)
        assert [y for _, y in torque] == pytest.approx(curve["torque"], abs=0.05)
        assert [y for _, y in mixture] == pytest.approx(curve["lambda"], abs=0.002)
        ours, theirs = page.evaluate(PLACES)
        for mine, his in zip(ours, theirs, strict=True):
            assert mine == pytest.approx(his, abs=1.5)
    page.locator("[data-change]").evaluate("box => box.removeAttribute('data-level')")
    wait_for_full_curve(page)
    assert page.locator(".moving").count() == 0
