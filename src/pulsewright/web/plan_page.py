"""Step 5: what to change and which pull to make next; what it should show, and how it came out."""

from __future__ import annotations

from typing import Any

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from pulsewright.errors import InputError, PulsewrightError, UsageError
from pulsewright.figures.curves import MeasuredCurve
from pulsewright.figures.torque_chart import Chart
from pulsewright.records.work import ENDS
from pulsewright.remedies.advice_words import CAUTIONS
from pulsewright.remedies.candidates import setup_hash
from pulsewright.remedies.expected_pull import ExpectedPull, from_json
from pulsewright.remedies.judgement import FORMAT as JUDGEMENT
from pulsewright.remedies.judgement import judge
from pulsewright.remedies.ranking import FRONT, REFUSED
from pulsewright.web import words
from pulsewright.web.app import see
from pulsewright.web.chart_data import HALVES, chart_json, stills_of
from pulsewright.web.desk import Day, Desk, stoichiometric_of
from pulsewright.web.long_work import ADVISE, EXPLAIN, FIT
from pulsewright.web.numbers_typed import JobNumber
from pulsewright.web.pages import page, view_of
from pulsewright.web.pulls_page import take_files
from pulsewright.web.uploads import words_and_files
from pulsewright.web.work_page import newest_work
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
SHOWN_REFUSED = 12


@router.get("/jobs/{job}/plan")
def plan(request: Request, job: JobNumber) -> Response:
    """Ranked changes, the next pull, what it should show, and how the last one came out."""
    desk: Desk = request.app.state.desk
    day, advice, expected = desk.day(job), desk.store.newest(job, "advise"), _expected(desk, job)
    judged = desk.store.newest(job, "judgement")
    candidates = advice.data["candidates"] if advice else []
    chart = _chart(expected, day) if expected else None
    view, stoichiometric = view_of(request), stoichiometric_of(day)
    return page(
        request, "plan", step="plan", job=desk.store.job(job), day=day, advice=advice and advice.data,
        stale=advice is not None and bool({"sheet", "data"} & set(advice.stale)), expected=expected,
        cards=[c for c in candidates if c["standing"] == FRONT],
        refused=[c for c in candidates if c["standing"] == REFUSED][:SHOWN_REFUSED], cautions=CAUTIONS,
        judged=judged and judged.data, work=newest_work(desk, job, ADVISE, EXPLAIN, FIT),
        explained=desk.store.newest(job, "explain") is not None, setup_name=_setup_of(day, expected) or _free_name(day),
        chart=stills_of(chart, view, stoichiometric, HALVES) if chart else None,
    )  # fmt: skip


@router.get("/jobs/{job}/expected.json")
def expected_curves(request: Request, job: JobNumber) -> JSONResponse:
    """What the next pull should show, and what it did show."""
    desk: Desk = request.app.state.desk
    day, expected = desk.day(job), _expected(desk, job)
    if expected is None:
        raise InputError(words.TEXT["plan_none"])
    data = chart_json(_chart(expected, day), view_of(request), stoichiometric_of(day))
    for curve in data["curves"]:
        if curve["name"] == words.TEXT["plan_expected_short"]:
            curve["kind"] = "model"
    return JSONResponse(data)


@router.post("/jobs/{job}/plan", dependencies=[SAME_SITE])
def ask(request: Request, job: JobNumber) -> Response:
    """Look for the next pull."""
    desk: Desk = request.app.state.desk
    if desk.store.newest(job, "explain") is None:
        raise UsageError(words.TEXT["plan_needs_cause"])
    desk.store.queue_work(job, ADVISE)
    return see(f"/jobs/{job}/plan")


@router.post("/jobs/{job}/done", dependencies=[SAME_SITE])
async def done(request: Request, job: JobNumber) -> Response:
    """New pulls of the expected change: kept as a setup of their own, and held against what was written down."""
    from starlette.concurrency import run_in_threadpool

    said, sent = await words_and_files(request)
    desk: Desk = request.app.state.desk
    await run_in_threadpool(_judge, desk, job, sent, said)
    return see(f"/jobs/{job}/plan")


def _judge(desk: Desk, job: int, sent: list[Any], said: dict[str, str]) -> None:
    expected = _expected(desk, job)
    if expected is None:
        raise UsageError(words.TEXT["plan_none"])
    name = _setup_of(desk.day(job), expected)
    if name is None:
        name = said.get("setup", "").strip() or _free_name(desk.day(job))
        desk.store.add_setup(job, name, expected.changes, expected.do, based_on=expected.before_setup)
    taken = take_files(desk, job, sent, {**said, "setup": name})
    bad = [each for each in taken if not each.good]
    if bad:
        raise InputError(f"{bad[0].name}: {bad[0].words}")
    day = desk.day(job)
    if day.pulls is None or name not in day.pulls.setups:
        raise day.trouble or InputError(words.TEXT["no_pulls"])
    found = judge(expected, day.pulls.setups[name])
    desk.store.keep_answer(job, "judgement", {"format": JUDGEMENT, "judged": [found.as_json()], "fit": None})
    _find_the_cause_again(desk, job)


def _find_the_cause_again(desk: Desk, job: int) -> None:
    """The model takes in the new pulls, by a fit where there was one."""
    explained, work = desk.store.newest(job, "explain"), newest_work(desk, job, EXPLAIN, FIT)
    if explained is None or (work is not None and work.state not in ENDS):
        return
    if explained.data.get("fitted"):
        desk.store.queue_work(job, FIT)
    else:
        desk.store.queue_work(job, EXPLAIN, {"fitted": False})


def _expected(desk: Desk, job: int) -> ExpectedPull | None:
    """The newest forecast; None where there is none, or one of another version."""
    kept = desk.store.newest(job, "expected")
    try:
        return from_json(kept.data, "the store") if kept else None
    except PulsewrightError:
        return None


def _setup_of(day: Day, expected: ExpectedPull | None) -> str | None:
    """The setup of the job that is the machine of a forecast."""
    if expected is None:
        return None
    return next((s.name for s in day.session.setups if setup_hash(s.setup) == expected.sheet), None)


def _free_name(day: Day) -> str:
    names = {setup.name for setup in day.session.setups}
    return next((n for n in "BCDEFGHIJKLMNOPQRSTUVWXYZ" if n not in names), "next")


def _chart(expected: ExpectedPull, day: Day) -> Chart:
    """Measured before, expected with its band, and the new pulls where they are made."""
    from pulsewright.report.tell import measured_curve

    t = words.TEXT
    before = MeasuredCurve(
        setup=expected.before_setup, role="before", words=t["measured"], rpm=expected.rpm, torque=expected.before,
        lambda_=expected.mixture_before if np.isfinite(expected.mixture_before).any() else (),
    )  # fmt: skip
    should = MeasuredCurve(
        setup=t["plan_expected_short"], role="other", words=expected.do, rpm=expected.rpm, torque=expected.torque,
        low=expected.torque_low, high=expected.torque_high,
        lambda_=expected.mixture if np.isfinite(expected.mixture).any() else (),
    )  # fmt: skip
    name = _setup_of(day, expected)
    pulled = day.pulls.setups.get(name) if day.pulls and name else None
    made = (measured_curve(pulled, "after", t["measured"]),) if pulled is not None else ()
    return Chart(measured=(before, should, *made), model=(), riding_band=expected.band)
