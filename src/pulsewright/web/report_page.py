"""Step 6: the page for the customer, to look at, to print, as a PDF, and on a phone."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from pulsewright.errors import InputError, LimitError, MissingToolError
from pulsewright.report.story import Story
from pulsewright.report.write import render_report
from pulsewright.web import words
from pulsewright.web.cause_page import story_of_job
from pulsewright.web.desk import Desk
from pulsewright.web.door import Door
from pulsewright.web.numbers_typed import JobNumber
from pulsewright.web.pages import page

router = APIRouter()
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; base-uri 'none'"
BROWSERS = ("chromium", "chromium-browser")
LONGEST = 60.0  # [s] of printing


@router.get("/jobs/{job}/report")
def report(request: Request, job: JobNumber) -> Response:
    """The page for the customer with what can be done with it."""
    desk: Desk = request.app.state.desk
    door: Door = request.app.state.door
    return page(
        request, "report", step="report", job=desk.store.job(job), story=story_of_job(desk, job),
        can_print=browser_here() is not None, links=door.links(), lan=door.lan,
    )  # fmt: skip


@router.get("/jobs/{job}/report/page")
def the_page(request: Request, job: JobNumber, save: bool = False) -> HTMLResponse:
    """The page alone, self-contained; `save`: as a file."""
    headers = {"Content-Security-Policy": POLICY}
    if save:
        headers["Content-Disposition"] = f'attachment; filename="report-{job}.html"'
    return HTMLResponse(render_report(_story(request, job)), headers=headers)


@router.get("/jobs/{job}/report/pdf")
def pdf(request: Request, job: JobNumber) -> Response:
    """The page as a PDF, printed by the Chromium of this machine."""
    data = printed(render_report(_story(request, job)))
    headers = {"Content-Disposition": f'attachment; filename="report-{job}.pdf"'}
    return Response(data, media_type="application/pdf", headers=headers)


def _story(request: Request, job: int) -> Story:
    desk: Desk = request.app.state.desk
    desk.store.job(job)
    story = story_of_job(desk, job)
    if story is None:
        raise InputError(words.TEXT["report_none"])
    return story


def browser_here() -> str | None:
    """The Chromium of this machine, None where there is none."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def printed(text: str) -> bytes:
    """An html page as a PDF.

    Raises MissingToolError without Chromium, LimitError where it does not finish.
    """
    import os

    browser = browser_here()
    if browser is None:
        raise MissingToolError(words.TEXT["report_no_pdf"], hint=words.TEXT["report_no_pdf_hint"])
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "report.html", Path(folder) / "report.pdf"
        source.write_text(text, encoding="utf-8")
        command = [
            browser, "--headless", "--disable-gpu", "--no-pdf-header-footer", f"--user-data-dir={folder}/profile",
            "--host-resolver-rules=MAP * ~NOTFOUND", f"--print-to-pdf={target}", source.as_uri(),
        ]  # fmt: skip
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.insert(1, "--no-sandbox")  # Chromium refuses to run as root with one
        try:
            subprocess.run(command, capture_output=True, timeout=LONGEST, check=False)
        except subprocess.TimeoutExpired:
            raise LimitError(words.TEXT["report_slow_pdf"], hint=words.TEXT["report_pdf_hint"]) from None
        if not target.exists():
            raise LimitError(words.TEXT["report_failed_pdf"], hint=words.TEXT["report_pdf_hint"])
        return target.read_bytes()
