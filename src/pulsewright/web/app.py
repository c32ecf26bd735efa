"""The web application: pages, what they fetch, and how errors are told."""

from __future__ import annotations

import errno
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp

from pulsewright import __version__
from pulsewright.errors import CancelledError, LimitError, MissingToolError, PulsewrightError
from pulsewright.records.database import NotKeptError
from pulsewright.web import words
from pulsewright.web.desk import Desk
from pulsewright.web.door import Door
from pulsewright.web.guard import Guard
from pulsewright.web.pages import page

STATIC = Path(__file__).parent / "static"


def create_app(desk: Desk, door: Door, *, worker: bool = True) -> ASGIApp:
    """The whole screen behind its guard.

    worker : whether a process for long work is kept alive beside it.
    """
    from pulsewright.web import (
        cause_page,
        change_page,
        difference_page,
        enter_page,
        jobs_page,
        look_page,
        new_job_page,
        plan_page,
        pulls_page,
        report_page,
        static_files,
        work_page,
    )  # fmt: skip
    from pulsewright.web.foreman import Foreman
    from pulsewright.web.live_models import LiveModels

    foreman = Foreman(desk) if worker else None

    @asynccontextmanager
    async def life(_app: FastAPI) -> AsyncIterator[None]:
        if foreman:
            foreman.start()
            threading.Thread(target=desk.warm_up, name="warm-up", daemon=True).start()
        yield
        if foreman:
            foreman.stop()

    app = FastAPI(title="pulsewright", version=__version__, docs_url=None, redoc_url=None, lifespan=life)
    app.state.desk, app.state.door, app.state.models = desk, door, LiveModels(desk)
    for room in (
        enter_page, static_files, look_page, jobs_page, new_job_page, pulls_page, difference_page, cause_page,
        work_page, change_page, plan_page, report_page,
    ):  # fmt: skip
        app.include_router(room.router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_exception_handler(PulsewrightError, _told)
    app.add_exception_handler(OSError, _no_room)
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_exception_handler(Exception, _broken)
    return Guard(app, door)


def wants_json(request: Request) -> bool:
    """Whether a script asks, and not a person."""
    return request.url.path.endswith(".json") or "application/json" in request.headers.get("accept", "")


def _told(request: Request, error: Exception) -> Response:
    assert isinstance(error, PulsewrightError)
    status = 404 if isinstance(error, NotKeptError) else 409 if isinstance(error, LimitError | CancelledError) else 400
    status = 424 if isinstance(error, MissingToolError) else status
    return _answer(request, status, error.what, error.where, error.hint)


def _no_room(request: Request, error: Exception) -> Response:
    """A disk that is full where it is no store: large files wait in the system's temporary folder. Else a defect."""
    if not isinstance(error, OSError) or error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EROFS):
        raise error
    return _answer(request, 400, words.TEXT["no_room"], error.filename, words.TEXT["no_room_hint"])


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 404:
        return _answer(request, 404, words.TEXT["not_found"], None, words.TEXT["not_found_hint"])
    return _answer(request, error.status_code, str(error.detail), None, None)


def _unreadable(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    rows = [f"{'.'.join(str(part) for part in row['loc'][1:])}: {row['msg']}" for row in error.errors()[:3]]
    return _answer(request, 422, words.UNREADABLE, "; ".join(rows), None)


def _broken(request: Request, _error: Exception) -> Response:
    return _answer(request, 500, words.TEXT["error_own"], None, None)


def _answer(request: Request, status: int, what: str, where: str | None, hint: str | None) -> Response:
    if wants_json(request):
        return JSONResponse({"format": "pulsewright error 1", "what": what, "where": where, "hint": hint}, status)
    return page(request, "error", status=status, what=what, where=where, hint=hint)


def see(path: str) -> RedirectResponse:
    """After something was done: look at a page, which may be loaded again without doing it twice."""
    return RedirectResponse(path, status_code=303)
