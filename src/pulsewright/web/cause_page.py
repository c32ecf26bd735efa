"""Step 2: the verdict in a sentence, how much each cause takes, what speaks for and against, what would change it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from pulsewright.errors import UsageError
from pulsewright.figures.cause_bars import Bar, cause_bars
from pulsewright.figures.torque_chart import NARROW
from pulsewright.records.answers import Answer
from pulsewright.report import words as told
from pulsewright.report.kept_story import story_from_json
from pulsewright.report.story import Story
from pulsewright.report.trusted_svg import trusted_svg
from pulsewright.web import words
from pulsewright.web.app import see
from pulsewright.web.desk import Desk
from pulsewright.web.long_work import EXPLAIN, FIT
from pulsewright.web.numbers_typed import JobNumber
from pulsewright.web.pages import page
from pulsewright.web.work_page import newest_work
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
IN_A_COLUMN = 520.0  # [px] so that letters keep their size


@router.get("/jobs/{job}/cause")
def cause(request: Request, job: JobNumber) -> Response:
    """What was found, or how to ask for it."""
    desk: Desk = request.app.state.desk
    kept, day = desk.store.job(job), desk.day(job)
    answer, story = desk.store.newest(job, "explain"), story_of_job(desk, job)
    bars = [Bar(cause=s.cause, share=s.share, low=s.low, high=s.high) for s in (story.shares if story else ())]
    return page(
        request, "cause", step="cause", job=kept, day=day, story=story, told=told, found=answer and answer.data,
        stale=_stale(answer), work=newest_work(desk, job, EXPLAIN, FIT),
        bars=trusted_svg(cause_bars(bars, width=IN_A_COLUMN)) if bars else None,
        bars_narrow=trusted_svg(cause_bars(bars, width=NARROW)) if bars else None,
    )  # fmt: skip


@router.post("/jobs/{job}/cause", dependencies=[SAME_SITE])
def ask(request: Request, job: JobNumber, how: Annotated[str, Form(max_length=20)]) -> Response:
    """Ask for the cause: at once with the sheet's model, or with the model fitted first."""
    desk: Desk = request.app.state.desk
    if desk.day(job).pulls is None:
        raise UsageError(words.TEXT["no_pulls"], hint=words.TEXT["no_pulls_hint"])
    if how not in ("first", "fit"):
        raise UsageError(words.TEXT["cause_no_way"].format(how=how), hint=words.TEXT["cause_no_way_hint"])
    if how == "fit":
        desk.store.queue_work(job, FIT)
    else:
        desk.store.queue_work(job, EXPLAIN, {"fitted": False})
    return see(f"/jobs/{job}/cause")


def story_of_job(desk: Desk, job: int) -> Story | None:
    """The newest story of a job; None where there is none, or one of another version that cannot be read."""
    answer = desk.store.newest(job, "report")
    try:
        return story_from_json(answer.data) if answer else None
    except (KeyError, TypeError, ValueError):
        return None


def _stale(answer: Answer | None) -> bool:
    """Whether pulls or sheets have changed since; newer code alone is no reason to doubt what was found."""
    return answer is not None and bool({"sheet", "data"} & set(answer.stale))
