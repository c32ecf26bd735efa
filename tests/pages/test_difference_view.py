"""The difference of two setups on the screen: what is drawn is what `pulls compare` says; keys, a finger, no script."""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner
from tests.pages.conftest import Visit
from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.web.measures import POUND_FOOT

BOX = "[data-difference]"
PHONE = {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True}


def drawn(page: Any) -> dict[str, Any]:
    """What the chart holds: the smooth difference, the outline of its band, and A."""
    page.wait_for_selector(f"{BOX} .main-svg")
    return page.evaluate(
        f"""() => {{ const plot = document.querySelector("{BOX} .plot");
              const on = axis => plot.data.filter(t => t.yaxis === axis);
              const trend = on("y2").find(t => t.line.width === 3), band = on("y2").find(t => t.fill);
              return {{ rpm: trend.x, torque: trend.y, band: band.y, lambda: on("y3").map(t => t.y),
                        a: plot.data.filter(t => !t.fill && !t.yaxis).map(t => [t.x, t.y])[0],
                        titles: [plot.layout.yaxis2.title.text, plot.layout.yaxis3.title.text] }}; }}"""
    )


def compared(first: str, second: str) -> dict[str, Any]:
    from pulsewright.cli.pulls_compare import compare

    result = CliRunner().invoke(compare, [str(SESSION), first, second, "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)["curve"]


@pytest.mark.parametrize("pair", [("A", "C"), ("B", "C")])
def test_what_is_drawn_is_what_the_command_says(visit: Visit, pair: tuple[str, str]):
    page = visit.page
    page.goto("/jobs/1/pulls")
    page.select_option("#first", pair[0])
    page.select_option("#second", pair[1])
    page.click("form[action*=difference] button")
    assert page.url.endswith(f"second={pair[1]}&first={pair[0]}#difference")
    seen, said = drawn(page), compared(*pair)
    assert seen["rpm"] == said["rpm"]
    level = [dict(zip(*seen["a"], strict=True))[rpm] for rpm in seen["rpm"]]
    percent = [100.0 * t / b for t, b in zip(seen["torque"], level, strict=True)]
    assert percent == pytest.approx(said["percent"], rel=0.02, abs=0.02)  # put on the smooth curve of the first
    high, low = seen["band"][: len(level)], seen["band"][len(level) :][::-1]
    for edge, name in ((high, "high"), (low, "low")):
        in_percent = [100.0 * t / b for t, b in zip(edge, level, strict=True)]
        assert in_percent == pytest.approx(said[name], rel=0.02, abs=0.02), name
    assert seen["titles"] == [f"{pair[1]} \u2212 {pair[0]}, N·m", f"{pair[1]} \u2212 {pair[0]}, lambda"]


def readout(page: Any) -> str:
    return page.inner_text(f"{BOX} .readout")


def test_keys_and_a_finger_move_the_readout(browser: Any, server: Server):
    visit = Visit(browser, server, **PHONE, color_scheme="dark")
    page = visit.page
    page.goto("/jobs/1/pulls")
    drawn(page)
    first = readout(page)
    assert "C \u2212 A" in first
    page.focus(f"{BOX} input[type=range]")
    page.keyboard.press("ArrowRight")
    assert readout(page) != first
    page.locator(BOX).scroll_into_view_if_needed()
    box = page.locator(f"{BOX} .nsewdrag").first.bounding_box()
    page.touchscreen.tap(box["x"] + 0.2 * box["width"], box["y"] + 0.5 * box["height"])
    assert 2000 < int(page.input_value(f"{BOX} input[type=range]")) < 3000
    assert "C \u2212 A" in readout(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    visit.close()


def test_it_is_read_in_the_units_of_the_browser(browser: Any, server: Server):
    metric, other = Visit(browser, server), Visit(browser, server)
    choice = {"name": "pw_view", "value": "torque=lbf%C2%B7ft&mixture=AFR&decimal=comma", "url": server.address}
    other.context.add_cookies([choice])
    for each in (metric, other):
        each.page.goto("/jobs/1/pulls")
    a, b = drawn(metric.page), drawn(other.page)
    assert b["torque"] == pytest.approx([v / POUND_FOOT for v in a["torque"]], rel=1e-4)
    assert b["titles"] == ["C \u2212 A, lbf·ft", "C \u2212 A, AFR"]
    assert "," in readout(other.page)
    metric.close()
    other.close()


@pytest.mark.parametrize(("width", "shown"), [(1280, ".only-full"), (800, ".only-wide"), (390, ".only-narrow")])
def test_without_scripts_a_still_picture_says_the_same(browser: Any, server: Server, width: int, shown: str):
    visit = Visit(browser, server, java_script_enabled=False, viewport={"width": width, "height": 800})
    visit.page.goto("/jobs/1/pulls?first=A&second=B")
    picture = visit.page.locator(f"{BOX} {shown} svg")
    assert picture.is_visible()
    assert visit.page.locator(f"{BOX} svg:visible").count() == 1
    assert "B \u2212 A" in picture.text_content()
    assert "B makes" in visit.page.inner_text("#difference .finding")
    visit.close()
