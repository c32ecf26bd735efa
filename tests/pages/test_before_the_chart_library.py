"""Until the chart library has arrived, the pictures that came with the page show the curves and answer to a hand."""

from __future__ import annotations

from typing import Any

import pytest
from tests.pages.conftest import Visit

LIBRARY = "**/static/plotly.js"
CURSOR = "figure.still svg:visible .cursor"


def hold_back(page: Any) -> Any:
    """The library is on its way for as long as nobody lets it through; returns what does so."""
    waiting: list[Any] = []
    page.route(LIBRARY, lambda route: waiting.append(route))

    def let_through() -> None:
        while waiting:
            waiting.pop().continue_()
        page.unroute(LIBRARY)

    return let_through


def speed_told(box: Any) -> str:
    return box.locator(".readout p").inner_text().replace("\u202f", "")


@pytest.mark.parametrize("kind", ["[data-chart]", "[data-difference]"])
def test_the_picture_tells_what_a_pointer_points_at(visit: Visit, kind: str):
    page = visit.page
    let_through = hold_back(page)
    page.goto("/jobs/1/pulls")
    box = page.locator(kind)
    box.locator(".readout tr").first.wait_for()
    assert page.evaluate("typeof Plotly") == "undefined"
    picture = box.locator("figure.still svg:visible")
    low, high, left, right, *_ = (float(v) for v in (picture.get_attribute("data-speeds") or "").split())
    picture.scroll_into_view_if_needed()
    place, wide = picture.bounding_box(), float((picture.get_attribute("viewBox") or "").split()[2])
    scale = place["width"] / wide
    page.mouse.move(place["x"] + scale * (left + 0.25 * (right - left)), place["y"] + 60)
    told = float(box.locator("input[type=range]").input_value())
    assert told == pytest.approx(low + 0.25 * (high - low), abs=15)
    assert f"{told:.0f}" in speed_told(box)
    cursor = float(box.locator(CURSOR).get_attribute("x1") or "nan")
    assert cursor == pytest.approx(left + (told - low) / (high - low) * (right - left), abs=0.1)
    before = box.locator(".readout tr").all_inner_texts()

    let_through()
    box.locator(".plot .main-svg").first.wait_for()
    assert box.locator("figure.still").count() == 0
    assert float(box.locator("input[type=range]").input_value()) == told
    assert box.locator(".readout tr").all_inner_texts() == before


def test_a_key_moves_the_line_and_the_numbers(visit: Visit):
    page = visit.page
    let_through = hold_back(page)
    page.goto("/jobs/1/pulls")
    box = page.locator("[data-chart]")
    box.locator(".readout tr").first.wait_for()
    before, at = speed_told(box), box.locator(CURSOR).get_attribute("x1")
    box.locator("input[type=range]").focus()
    page.keyboard.press("PageUp")
    assert speed_told(box) != before
    assert box.locator(CURSOR).get_attribute("x1") != at
    let_through()


def test_without_the_library_the_picture_stays(browser: Any, server: Any):
    visit = Visit(browser, server)
    visit.page.route(LIBRARY, lambda route: route.abort())
    visit.page.goto("/jobs/1/pulls")
    visit.page.locator("[data-chart] .readout tr").first.wait_for()
    visit.page.wait_for_timeout(500)
    assert visit.page.locator("[data-chart] figure.still svg").first.is_visible()
    visit.page.goto("/jobs/1/change")
    status = visit.page.locator("[data-status]")
    visit.page.wait_for_function("document.querySelector('[data-status]').textContent.includes('chart library')")
    assert status.is_visible()
    visit.context.close()
    assert any("chart library" in said or "ERR_FAILED" in said for said in visit.complaints)
