"""A visit with the six files of a practice session: from the new job to the printed report.

The session lies outside this repository, as tests/practice says. Nothing in it is ours, so that what is drawn is
compared with what the command line says of the same files and the same sheet. The quick visit is given the answers
that take minutes, as our own code once gave them (the list of candidates shortened); the slow one waits for them.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from tests.pages.conftest import Visit, keep_answers
from tests.pages.drawn_curves import curve_on_screen, predicted, slide, wait_for_full_curve
from tests.pages.screen_server import Server
from tests.practice.test_practice_sessions import FOLDER

from pulsewright.records.store import Store

SIX = FOLDER / "single-with-muffler-healthy"
SHEET = SIX / "setup.toml"
LEANER = "carburettor.1.main_jet=1.411 mm"
ANSWERS = Path(__file__).parent / "answers_of_the_six.json"
CHANNELS = {"toeren": "engine_speed", "koppel (Nm)": "torque", "lambda": "lambda", "snelheid (km/h)": "roller_speed"}
LONGEST = 1_800_000.0  # [ms] of the cause and the advice, on a busy machine
pytestmark = pytest.mark.skipif(not SIX.is_dir(), reason="no practice sessions beside the checkout")


def make_the_job(page: Any) -> int:
    page.goto("/new")
    page.set_input_files("#sheet", str(SHEET))
    page.fill("#machine-sheet", "The six files")
    page.fill("#complaint-sheet", "no complaint, check before the season")
    page.click("text=Make the job from this")
    page.wait_for_url("**/jobs/*")
    job = int(page.url.rpartition("/")[2])
    page.click("text=Add a setup")
    page.fill("#name", "B")
    page.fill("#change", LEANER)
    page.fill("#note", "one step leaner to be sure")
    page.click("form[action$=setups] button")
    assert "main jet" in page.inner_text(".strip")
    return job


def drop(page: Any, setup: str, files: list[Path]) -> None:
    page.set_input_files("#files", [str(f) for f in files])
    page.select_option("#setup", setup)
    page.click("text=Air of the day")
    for key, value in {"temperature": "22.5 °C", "pressure": "100,9 kPa", "humidity": "46 %"}.items():
        page.fill(f"#air_{key}", value)
    page.fill("#head", "160 °C")
    page.click("text=Read them")
    page.wait_for_selector(".taken .good")
    assert page.locator(".taken .good").count() == len(files)


def bring_in_the_six(page: Any) -> None:
    files = sorted((SIX / "pulls").glob("*.csv"))
    assert len(files) == 6
    page.click("nav >> text=Bring in pulls")
    drop(page, "A", files[:3])
    drop(page, "B", files[3:])


def confirm_the_channels(page: Any, job: int) -> None:
    """Headings in another tongue, decimal commas, no time column: all are proposed, only the place is asked."""
    if not page.locator("#torque").is_visible():
        page.click("text=How these files are read")
    taken = page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll("table.cards tr:has([name^=quantity-])")].map(
             row => [row.querySelector("th").innerText.trim(), row.querySelector("select").value]))"""
    )
    assert taken == CHANNELS
    page.select_option("#torque", "wheel")
    page.click("text=This is right")
    page.wait_for_url(f"**/jobs/{job}/pulls")
    page.wait_for_selector(".plot .main-svg")


def look_at_the_change(page: Any) -> None:
    page.click("nav >> text=Try a change")
    wait_for_full_curve(page)
    speeds, drawn = curve_on_screen(page, "before")
    assert drawn == pytest.approx(predicted(SHEET, speeds), rel=8e-3)
    slide(page, "pipe-length", 230.0)  # of the pipe behind the muffler
    assert "80 mm longer" in page.inner_text("h1")
    speeds, drawn = curve_on_screen(page, "after")
    assert drawn == pytest.approx(predicted(SHEET, speeds, "exhaust.route.1.3.length=230 mm"), rel=8e-3)
    assert drawn != pytest.approx(predicted(SHEET, speeds), rel=8e-3)  # else the comparison would tell nothing
    assert page.inner_text("[data-gate]").strip()


def print_the_report(page: Any, to: Path) -> None:
    page.click("nav >> text=Explain it")
    with page.expect_download() as waiting:
        page.click("text=Save as PDF")
    waiting.value.save_as(to)
    assert to.read_bytes().startswith(b"%PDF-")
    assert to.stat().st_size > 20_000


def true_verdict() -> str:
    return tomllib.loads((SIX / "truth.toml").read_text(encoding="utf-8"))["verdict"]


def test_from_the_new_job_to_the_report(visit: Visit, server: Server, tmp_path: Path):
    page = visit.page
    job = make_the_job(page)
    bring_in_the_six(page)
    confirm_the_channels(page, job)
    with Store.open(server.place) as store:
        keep_answers(store, job, ANSWERS)
    page.click("nav >> text=Find the cause")
    assert "No hole was found" in page.inner_text("h1")
    look_at_the_change(page)
    page.click("nav >> text=Plan the next pull")
    assert "leave it as it is" in page.inner_text(".nexts")
    print_the_report(page, tmp_path / "report.pdf")


@pytest.mark.slow
def test_with_the_cause_and_the_advice_computed(visit: Visit, server: Server, tmp_path: Path):
    page = visit.page
    job = make_the_job(page)
    bring_in_the_six(page)
    confirm_the_channels(page, job)
    page.click("nav >> text=Find the cause")
    page.click("form:has([value=first]) button")
    expect(page.locator(".chances")).to_be_visible(timeout=LONGEST)
    most_likely = page.inner_text(".chances li >> nth=0")
    assert true_verdict() in most_likely
    look_at_the_change(page)
    page.click("nav >> text=Plan the next pull")
    page.click("form[action$=plan] button")
    expect(page.locator(".nexts")).to_be_visible(timeout=LONGEST)
    print_the_report(page, tmp_path / "report.pdf")
