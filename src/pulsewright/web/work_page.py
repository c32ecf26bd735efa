"""Long work as a page sees it: how far it is, and stop."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from pulsewright.records.work import ENDS, Work
from pulsewright.web import words
from pulsewright.web.app import see, wants_json
from pulsewright.web.desk import Desk
from pulsewright.web.numbers_typed import JobNumber
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
STEP_OF = {"explain": "cause", "fit": "cause", "advise": "plan"}


@router.get("/work/{work}.json")
def state(request: Request, work: JobNumber) -> JSONResponse:
    """How far one piece of work is."""
    desk: Desk = request.app.state.desk
    return JSONResponse(work_json(desk.store.work(work)))


@router.post("/work/{work}/stop", dependencies=[SAME_SITE])
def stop(request: Request, work: JobNumber) -> Response:
    """Ask for a stop; what is finished is kept."""
    desk: Desk = request.app.state.desk
    asked = desk.store.ask_to_stop(work)
    if wants_json(request):
        return JSONResponse(work_json(asked))
    return see(f"/jobs/{asked.job}/{STEP_OF.get(asked.kind, 'cause')}")


def work_json(work: Work) -> dict[str, Any]:
    """One piece of work as plain data."""
    return {
        "id": work.id, "kind": work.kind, "name": words.TEXT.get(f"work_{work.kind}", work.kind), "state": work.state,
        "progress": round(work.progress, 3), "words": work.words, "stopping": work.stop_asked,
        "over": work.state in ENDS,
    }  # fmt: skip


def newest_work(desk: Desk, job: int, *kinds: str) -> Work | None:
    """The work of these kinds that was asked for last, if it is at work or did not end well."""
    mine = [w for w in desk.store.works(job) if w.kind in kinds]
    return mine[0] if mine and mine[0].state != "done" else None
