"""The list of jobs, and one job with its setups in order."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from pulsewright.bench.change_words import changes_in_words
from pulsewright.bench.changes import parse_set
from pulsewright.bench.describe import describe
from pulsewright.pulls.comparison import Comparison
from pulsewright.web.app import see
from pulsewright.web.desk import Day, Desk
from pulsewright.web.numbers_typed import JobNumber, rpm_of
from pulsewright.web.pages import page
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
MOST_LINES = 40  # of changes in one form


@dataclass(frozen=True, slots=True, kw_only=True)
class StripStep:
    """One setup in the strip: what changed, and what it did."""

    name: str
    based_on: str
    words: str
    note: str
    pulls: int
    comparison: Comparison | None


@router.get("/")
def jobs(request: Request, words: Annotated[str, Query(max_length=200)] = "") -> Response:
    """Every job, or those that hold all of some words."""
    desk: Desk = request.app.state.desk
    return page(request, "jobs", jobs=desk.store.jobs(words), asked=words)


@router.get("/jobs/{job}")
def one(request: Request, job: JobNumber) -> Response:
    """A job: complaint, setups in order, what is on the machine, where to go on."""
    desk: Desk = request.app.state.desk
    kept, day = desk.store.job(job), desk.day(job)
    answers = {kind: desk.store.newest(job, kind) for kind in ("explain", "advise")}
    base = day.session.setup(day.baseline).setup
    return page(
        request, "job", job=kept, day=day, strip=strip_of(day), sheet=describe(base), assumed=base.assumptions,
        next_step="pulls" if day.pulls is None else "cause" if answers["explain"] is None else "change",
    )  # fmt: skip


def strip_of(day: Day) -> list[StripStep]:
    """The setups in order, each with what changed and what it did to the torque."""
    counts = {name: 0 for name in (s.name for s in day.session.setups)}
    for entry in day.session.pulls:
        counts[entry.setup] += 1
    compared = {c.second: c for c in (day.pulls.comparisons if day.pulls else ())}
    return [
        StripStep(
            name=s.name, based_on=s.based_on or "", words=changes_in_words(s) if s.changes else "", note=s.note,
            pulls=counts[s.name], comparison=compared.get(s.name),
        )
        for s in day.session.setups
    ]  # fmt: skip


@router.post("/jobs/{job}/setups", dependencies=[SAME_SITE])
def add_setup(
    request: Request, job: JobNumber, name: Annotated[str, Form(max_length=100)],
    based_on: Annotated[str, Form(max_length=100)], change: Annotated[str, Form(max_length=5000)] = "",
    note: Annotated[str, Form(max_length=2000)] = "",
) -> Response:  # fmt: skip
    """A new setup: another one with changes, one a line."""
    desk: Desk = request.app.state.desk
    lines = [line for line in change.splitlines() if line.strip()][:MOST_LINES]
    desk.store.add_setup(job, name, [parse_set(line) for line in lines], note, based_on=based_on)
    return see(f"/jobs/{job}")


@router.post("/jobs/{job}/details", dependencies=[SAME_SITE])
def details(
    request: Request, job: JobNumber, machine: Annotated[str, Form(max_length=200)],
    complaint: Annotated[str, Form(max_length=2000)] = "", band_from: Annotated[str, Form(max_length=20)] = "",
    band_to: Annotated[str, Form(max_length=20)] = "",
) -> Response:  # fmt: skip
    """What is said of a job."""
    desk: Desk = request.app.state.desk
    settings: dict[str, Any] = dict(desk.store.job(job).settings)
    if band_from.strip() and band_to.strip():
        settings["riding_band"] = [rpm_of(band_from, "band_from"), rpm_of(band_to, "band_to")]
    desk.store.edit_job(job, title=machine, machine=machine, complaint=complaint, settings=settings)
    return see(f"/jobs/{job}")


@router.get("/jobs/{job}/file")
def as_file(request: Request, job: JobNumber) -> Response:
    """The job with all that belongs to it as one file, which another store can take in."""
    desk: Desk = request.app.state.desk
    with tempfile.TemporaryDirectory() as folder:
        path = desk.store.export_job(job, Path(folder))
        headers = {"Content-Disposition": f'attachment; filename="{path.name}"'}
        return Response(path.read_bytes(), media_type="application/zip", headers=headers)


@router.post("/jobs/{job}/bin", dependencies=[SAME_SITE])
def throw_away(request: Request, job: JobNumber) -> Response:
    """Put a job into the bin of the store."""
    desk: Desk = request.app.state.desk
    desk.store.delete_job(job)
    return see("/")
