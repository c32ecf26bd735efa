"""The bench screen in a real browser: a whole visit, and what must hold on every page."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from tests.pages.conftest import Visit, keep_answers
from tests.pages.drawn_curves import curve_on_screen, predicted, slide, wait_for_full_curve
from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

STEPS = ("", "/pulls", "/cause", "/change", "/plan", "/report")
PAGES = ("/", "/new", "/look", "/enter", *(f"/jobs/1{step}" for step in STEPS))
PULLS = [str(path) for path in sorted((SESSION / "pulls").glob("*.csv"))]


def test_a_visit(visit: Visit, server: Server, tmp_path: Path):
    """New job, drop the pulls, confirm, cause, slide the pipe, plan, report as a PDF."""
    page = visit.page
    page.goto("/new")
    page.set_input_files("#sheet", str(SESSION / "setup.toml"))
    page.fill("#machine-sheet", "The visit")
    page.fill("#complaint-sheet", "goes flat in the middle, then kicks")
    page.click("text=Make the job from this")
    page.wait_for_url("**/jobs/*")
    job = int(page.url.rpartition("/")[2])

    page.click("nav >> text=Bring in pulls")
    page.set_input_files("#files", PULLS[:3])
    page.click("text=Read them")
    page.wait_for_selector(".taken .good")
    assert page.locator(".taken .good").count() == 3
    assert "Hole" in page.inner_text("h1")
    page.wait_for_selector(".plot .main-svg")
    assert page.locator("details[open] >> text=Motordrehzahl").count()  # open, since there is a question about torque
    page.click("text=This is right")
    page.wait_for_url(f"**/jobs/{job}/pulls")

    with Store.open(server.place) as store:
        keep_answers(store, job)
    page.click("nav >> text=Find the cause")
    assert "comes mainly from the echo" in page.inner_text("h1")
    assert "What would change our mind" in page.inner_text("main")

    page.click("nav >> text=Try a change")
    wait_for_full_curve(page)
    speeds, drawn = curve_on_screen(page, "before")
    assert drawn == pytest.approx(predicted(SESSION / "setup.toml", speeds), rel=8e-3)
    slide(page, "pipe-length", 700.0)
    assert "200 mm shorter" in page.inner_text("h1")
    speeds, drawn = curve_on_screen(page, "after")
    longer = [f"exhaust.route.{n}.1.length=700 mm" for n in (1, 2)]
    assert drawn == pytest.approx(predicted(SESSION / "setup.toml", speeds, *longer), rel=8e-3)
    assert page.inner_text("[data-gate]").strip()
    page.click("text=Keep it as a setup")
    page.wait_for_url(f"**/jobs/{job}")
    assert "pipe 700 mm" in page.inner_text(".strip")

    page.click("nav >> text=Plan the next pull")
    assert "Next pull" in page.inner_text("main")
    assert page.locator(".nexts li").count() >= 1

    page.click("nav >> text=Explain it")
    with page.expect_download() as waiting:
        page.click("text=Save as PDF")
    saved = tmp_path / "report.pdf"
    waiting.value.save_as(saved)
    assert saved.read_bytes().startswith(b"%PDF-")
    assert saved.stat().st_size > 20_000


def test_the_pull_that_was_planned_is_judged(visit: Visit, server: Server):
    """The answers expect a plate; the made-up pulls with the plate are held against them."""
    with Store.open(server.place) as store:
        job = store.take_in(SESSION).id
        for pull in store.pull_files(job):
            if pull.setup == "C":
                store.remove_pull_file(pull.id)
        keep_answers(store, job)
    page = visit.page
    page.goto(f"/jobs/{job}/plan")
    page.set_input_files("#files", PULLS[6:9])
    with page.expect_navigation():
        page.click("text=Hold them against it")
    assert "of the riding band" in page.inner_text(".judged")
    with Store.open(server.place) as store:
        judged = store.newest(job, "judgement")
        assert judged is not None
        assert len(store.pull_files(job)) == 10
        again = [work for work in store.works(job) if work.kind in ("explain", "fit")]
        assert len(again) == 1
        store.ask_to_stop(again[0].id)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_no_page_shuts_anybody_out(browser: Any, server: Server, theme: Any):
    """The rules of axe on every page, in both themes."""
    from axe_playwright_python.sync_playwright import Axe

    visit = Visit(browser, server, viewport={"width": 1280, "height": 900}, color_scheme=theme, reduced_motion="reduce")
    found = {}
    for path in PAGES:
        visit.page.goto(path)
        if path.endswith("/change"):
            wait_for_full_curve(visit.page)
        result = Axe().run(visit.page)
        if result.violations_count:
            found[path] = [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in result.response["violations"]]
    visit.close()
    assert not found


def test_a_phone_needs_no_sideways_scroll(browser: Any, server: Server):
    visit = Visit(browser, server, viewport={"width": 390, "height": 800}, has_touch=True, is_mobile=True)
    small: dict[str, list[str]] = {}
    for path in PAGES:
        visit.page.goto(path)
        visit.page.wait_for_timeout(300)
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= 390, path
        small[path] = visit.page.evaluate(
            """() => [...document.querySelectorAll("button, select, input, summary, nav a, .button")]
                 .filter(e => !["radio", "checkbox", "hidden"].includes(e.type) && e.offsetParent)
                 .filter(e => e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 90))"""
        )
    visit.close()
    assert not {path: rows for path, rows in small.items() if rows}


def test_everything_is_reached_by_keyboard(visit: Visit):
    page = visit.page
    page.goto("/jobs/1/change")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    wait_for_full_curve(page)
    page.focus("[data-name=pipe-length] input")
    page.keyboard.press("ArrowRight")
    assert "905" in page.inner_text("[data-name=pipe-length] output")
    expect(page.locator("[data-state]")).to_contain_text("°", timeout=60_000)
    page.focus("[data-do=less]")
    page.keyboard.press("PageDown")
    before = page.input_value("#crank")
    page.keyboard.press("ArrowRight")
    assert int(page.input_value("#crank")) == (int(before) + 2) % 720
    assert page.inner_text("[data-do=play]") == "Play"
    page.focus("[data-do=play]")
    page.keyboard.press("Enter")
    expect(page.locator("[data-do=play]")).to_have_text("Pause")


def test_nothing_moves_where_motion_is_unwelcome(browser: Any, server: Server):
    visit = Visit(browser, server, reduced_motion="reduce")
    visit.page.goto("/jobs/1/change")
    wait_for_full_curve(visit.page)
    expect(visit.page.locator("[data-state]")).to_contain_text("echo arrives", timeout=60_000)
    assert visit.page.inner_text("[data-do=play]") == "Play"
    visit.close()


def test_without_scripts_the_findings_can_be_read(browser: Any, server: Server):
    visit = Visit(browser, server, java_script_enabled=False)
    visit.page.goto("/jobs/1/cause")
    assert "comes mainly from the echo" in visit.page.inner_text("h1")
    assert visit.page.locator("figure svg").first.is_visible()
    visit.page.goto("/jobs/1/pulls")
    assert visit.page.locator("figure.still svg").first.is_visible()
    visit.page.goto("/jobs/1/plan")
    assert "Next pull" in visit.page.inner_text("main")
    visit.close()


def test_two_browsers_do_not_mix(browser: Any, server: Server):
    one, other = (Visit(browser, server) for _ in range(2))
    for each in (one, other):
        each.page.goto("/jobs/1/change")
        wait_for_full_curve(each.page)
    slide(one.page, "pipe-length", 700.0)
    slide(other.page, "main-jet", 12.0)
    assert "shorter" in one.page.inner_text("h1")
    assert "jet" not in one.page.inner_text("h1")
    assert "main jet" in other.page.inner_text("h1")
    one.close()
    other.close()


def test_the_customer_sees_no_numbers(visit: Visit):
    page = visit.page
    page.goto("/jobs/1/change")
    wait_for_full_curve(page)
    page.check("[data-do=plain]")
    seen = page.inner_text("[data-state]") + page.inner_text(".customer")
    assert not any(letter.isdigit() for letter in seen)
    assert page.locator("[data-hover]").is_hidden()


def test_pointing_at_the_pipe_tells_the_pressure(visit: Visit):
    page = visit.page
    page.goto("/jobs/1/change")
    wait_for_full_curve(page)
    expect(page.locator("[data-state]")).to_contain_text("°", timeout=60_000)
    box = page.locator(".pipe:visible canvas").last.bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    assert "kPa" in page.inner_text("[data-hover]")


@pytest.mark.skipif(not os.environ.get("PULSEWRIGHT_FRAMES"), reason="a measure of the machine, not of the code")
def test_the_echo_moves_smoothly(visit: Visit):
    page = visit.page
    page.goto("/jobs/1/change")
    wait_for_full_curve(page)
    rate = page.evaluate(
        """() => new Promise(done => { let n = 0; const begin = performance.now(), count = () => { n += 1;
             if (performance.now() - begin < 2000) requestAnimationFrame(count); else done(n / 2); };
             requestAnimationFrame(count); })"""
    )
    assert rate >= 30.0


@pytest.mark.parametrize(
    ("kind", "asked"),
    [
        ("fixed venturi", {"intermediate_jet", "main_nozzle"}),
        ("slide", {"pilot_jet", "needle_jet", "needle_diameter", "needle_clip", "cutaway"}),
        ("constant velocity", {"pilot_jet", "needle_jet", "needle_diameter", "needle_clip"}),
    ],
)
def test_the_short_form_asks_what_the_kind_of_carburettor_has(visit: Visit, kind: str, asked: set[str]):
    page = visit.page
    page.goto("/new")
    page.select_option("#carburettor", kind)
    seen = page.evaluate(
        """() => [...document.querySelectorAll("[data-only] input")].filter(i => i.offsetParent).map(i => i.name)"""
    )
    assert set(seen) == asked
