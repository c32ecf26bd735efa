"""Small promises of the screen: units everywhere, large letters, files that are dropped, marks where a gate refuses."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect
from tests.pages.conftest import Visit
from tests.pages.drawn_curves import slide, wait_for_full_curve
from tests.pages.screen_server import Server

from pulsewright.bench.session import read_session
from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store
from pulsewright.web.measures import INCH, POUND_FOOT

STEPS = ("", "/pulls", "/cause", "/change", "/plan", "/report")
OTHER_UNITS = "lengths=in&torque=lbf%C2%B7ft&mixture=AFR&decimal=comma"
DROP = """([name, text]) => { const carried = new DataTransfer();
  carried.items.add(new File([text], name, { type: "text/csv" }));
  for (const kind of ["dragenter", "dragover", "drop"]) document.querySelector("[data-drop]").dispatchEvent(
    new DragEvent(kind, { dataTransfer: carried, bubbles: true, cancelable: true })); }"""


def visit_with(browser: Any, server: Server, choices: str, **options: Any) -> Visit:
    made = Visit(browser, server, **options)
    made.context.add_cookies([{"name": "pw_view", "value": choices, "url": server.address}])
    return made


def ticks(page: Any) -> tuple[str, list[float]]:
    """Words and numbers of the torque axis of the picture that came with the page."""
    texts = page.locator("[data-chart] .still svg:visible text").all_text_contents()
    numbers = [float(text) for text in texts[1:] if re.fullmatch(r"\d{2,3}", text)]
    return next(text for text in texts if "torque" in text), numbers


def test_without_scripts_the_picture_is_in_the_units_of_the_browser(browser: Any, server: Server):
    metric = visit_with(browser, server, "torque=N%C2%B7m", java_script_enabled=False)
    other = visit_with(browser, server, OTHER_UNITS, java_script_enabled=False)
    for each in (metric, other):
        each.page.goto("/jobs/1/pulls")
    (name, newton), (other_name, pound) = ticks(metric.page), ticks(other.page)
    assert (name, other_name) == ("torque, N·m", "torque, lbf·ft")
    assert max(pound) == pytest.approx(max(newton) / POUND_FOOT, abs=8.0)  # an axis has round numbers
    assert min(pound) == pytest.approx(min(newton) / POUND_FOOT, abs=8.0)
    seen = other.page.locator("[data-chart] .still svg:visible").text_content() or ""
    assert "AFR" in seen
    assert re.search(r"1[0-5],\d", seen)  # 10 to 15 parts of air, with a decimal comma
    metric.close()
    other.close()


def test_the_rule_of_the_pipe_and_the_pointer_are_in_inches_where_lengths_are(browser: Any, server: Server):
    told = {}
    for choices in (OTHER_UNITS, "lengths=mm"):
        visit = visit_with(browser, server, choices, viewport={"width": 1280, "height": 900}, reduced_motion="reduce")
        page = visit.page
        page.goto("/jobs/1/change")
        wait_for_full_curve(page)
        expect(page.locator("[data-state]")).to_contain_text("°", timeout=60_000)
        canvas = page.locator(".pipe:visible canvas").last
        canvas.scroll_into_view_if_needed()
        box = canvas.bounding_box()
        page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 0.5 * box["height"])
        found = re.match(r"([\d,.]+)\u202f(\w+),", page.inner_text("[data-hover]"))
        assert found is not None
        place, unit = found.groups()
        told[unit] = float(place.replace(",", "."))
        visit.close()
    assert told["in"] * INCH == pytest.approx(told["mm"], abs=2.0)


@pytest.mark.parametrize("width", [390, 1280])
def test_large_letters_need_no_sideways_scroll(browser: Any, server: Server, width: int):
    visit = visit_with(browser, server, "size=large", viewport={"width": width, "height": 800})
    for path in ("/", "/new", "/look", *(f"/jobs/1{step}" for step in STEPS)):
        visit.page.goto(path)
        visit.page.wait_for_timeout(200)
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= width, path
    assert visit.page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)") >= 18.0
    visit.close()


def test_a_file_that_is_dropped_is_read_with_the_air_as_it_was_typed(visit: Visit, server: Server):
    with Store.open(server.place) as store:
        job = store.new_job("dropped on", "", "", (SESSION / "setup.toml").read_text(encoding="utf-8")).id
    page = visit.page
    page.goto(f"/jobs/{job}/pulls")
    text = (SESSION / "pulls" / "01.csv").read_bytes().decode("latin-1")
    page.evaluate(DROP, ["from the stick.csv", text])
    expect(page.locator(".names li")).to_have_text("from the stick.csv")
    page.click("text=Air of the day")
    page.fill("#air_temperature", "21,5")
    page.fill("#air_pressure", "99,4 kPa")
    page.click("text=Read them")
    page.wait_for_selector(".taken .good")
    with Store.open(server.place) as store:
        air = read_session(store.lay_out(job)).pulls[0].air
    assert air is not None
    assert air.pressure == pytest.approx(99_400.0)
    assert air.temperature == pytest.approx(273.15 + 21.5)


def test_a_gate_leaves_its_mark_where_the_slider_enters_it(visit: Visit):
    page = visit.page
    page.goto("/jobs/1/change")
    wait_for_full_curve(page)
    marks = page.locator("[data-name=main-jet] .track span")
    assert marks.count() == 0
    slide(page, "main-jet", 2.0)  # the smallest sizes of the kit: far too lean
    assert "lean gate" in page.inner_text("[data-gate]")
    assert marks.count() == 1
    slider = page.locator("[data-name=main-jet] input").bounding_box()
    place = marks.first.bounding_box()
    assert slider["x"] <= place["x"] < slider["x"] + 0.3 * slider["width"]
    assert page.locator("[data-name=pipe-length] .track span").count() == 0
    page.click("[data-reset]")
    expect(marks).to_have_count(0)


def test_two_machines_are_shown_side_by_side_at_any_speed_and_angle(visit: Visit):
    page = visit.page
    page.goto("/jobs/1/change")
    wait_for_full_curve(page)
    expect(page.locator("[data-state]")).to_contain_text("°", timeout=60_000)
    slide(page, "pipe-length", 700.0)
    assert page.locator(".pipe:visible").count() == 1
    page.check("[data-do=beside]")
    expect(page.locator(".pipe:visible")).to_have_count(2)
    before = page.inner_text("[data-sentence]")
    page.locator("[data-rpm]").evaluate(
        "e => { e.value = 2500; e.dispatchEvent(new Event('input', { bubbles: true })); }"
    )
    expect(page.locator("[data-sentence]")).to_contain_text("500\u202frpm", timeout=60_000)
    assert page.inner_text("[data-sentence]") != before
    page.locator("#crank").evaluate("e => { e.value = 400; e.dispatchEvent(new Event('input', { bubbles: true })); }")
    expect(page.locator("[data-state]")).to_contain_text("400°")
