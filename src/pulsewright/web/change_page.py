"""Step 4: turn something, and see the curve and the echo while it turns, with what the safety gates say."""

from __future__ import annotations

import math
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, Field
from starlette.background import BackgroundTask

from pulsewright.errors import UsageError
from pulsewright.figures import words as figure_words
from pulsewright.figures.echo_page import page_data
from pulsewright.records.shop_catalogue import shop_catalogue
from pulsewright.remedies.dials import Dial, Dialled, dialled, dials_of, fitted_piece
from pulsewright.remedies.live_model import LEVELS, LiveCurve, LiveModel
from pulsewright.web import words
from pulsewright.web.app import see
from pulsewright.web.chart_data import axes, chart_json, measured_chart, rounded
from pulsewright.web.desk import Day, Desk, stoichiometric_of
from pulsewright.web.live_models import LiveModels
from pulsewright.web.measures import View
from pulsewright.web.numbers_typed import JobNumber
from pulsewright.web.pages import page, view_of
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
MOST_DIALS = 30
FINENESS = {"drag": (100, 241), "show": (200, 721), "final": (200, 721)}  # places, angles of an echo
# kind of dial -> unit, and what one of its own is in it
SHOWN = {"length": ("mm", 1e3), "angle": ("°", 1.0), "share": ("%", 100.0), "count": ("", 1.0), "word": ("", 1.0)}


class Turned(BaseModel):
    """Dials as they stand: a length in metres, an angle in degrees, a share 0 to 1, a count, or a word."""

    setup: str = Field(max_length=100)
    dials: dict[Annotated[str, Field(max_length=40)], float | Annotated[str, Field(max_length=40)]] = Field(
        default_factory=dict, max_length=MOST_DIALS
    )
    level: str = Field(default="drag", pattern="^(drag|show|final)$")
    rpm: float = Field(default=3000.0, ge=300.0, le=15_000.0, allow_inf_nan=False)
    cylinder: int = Field(default=1, ge=1, le=12)


@router.get("/jobs/{job}/change")
def change(request: Request, job: JobNumber, setup: Annotated[str, Query(max_length=100)] = "") -> Response:
    """The dials of a machine, and the chart and pipe that follow them."""
    desk: Desk = request.app.state.desk
    day, view = desk.day(job), view_of(request)
    machine = day.machine(setup or None)
    models: LiveModels = request.app.state.models
    return page(
        request, "change", step="change", job=desk.store.job(job), day=day, wide=True, setup=machine.name,
        dials=[shown_dial(d, view) for d in dials_of(machine.setup, _catalogue(desk))],
        fitted=models.machine(day).fitted,
        reach=models.model(request.state.visit, day, machine.name).reach,
        cylinders=[n for n in machine.setup.exhaust.route], names=_free_name(day),
        rpm=day.pulls.hole.rpm_bottom if day.pulls and day.pulls.hole else 3000.0,
        fw=figure_words, fitted_piece=fitted_piece(machine.setup),
    )  # fmt: skip


@router.post("/jobs/{job}/try.json", dependencies=[SAME_SITE])
def turn(request: Request, job: JobNumber, turned: Turned) -> JSONResponse:
    """The curve of the machine with its dials so, at one level, with gains and gates."""
    model, state, day = _dialled(request, job, turned)
    view = view_of(request)
    curve = model.curve(state.setup, LEVELS[turned.level])
    return JSONResponse(
        {
            "words": state.words,
            "curve": curve_json(curve, view, stoichiometric_of(day)) if state.rows else None,
            "gains": gains_json(curve) if state.rows else None,
            "refused": [{"gate": r.gate, "why": r.why, "rpm": r.rpm} for r in curve.refusals],
            "judged": curve.forecast is not None,
        }
    )


@router.get("/jobs/{job}/start.json")
def start(request: Request, job: JobNumber, setup: Annotated[str, Query(max_length=100)] = "") -> JSONResponse:
    """What was measured, and the model of the machine as it is; then the slider is made ready."""
    desk: Desk = request.app.state.desk
    day, view = desk.day(job), view_of(request)
    name = day.machine(setup or None).name
    models: LiveModels = request.app.state.models
    model = models.model(request.state.visit, day, name)
    chart = measured_chart(day)
    data = chart_json(chart, view, stoichiometric_of(day)) if chart else {**axes(view), "curves": []}
    data["curves"] = [c for c in data["curves"] if c["name"] == name]
    before = model.curve(model.before, LEVELS["show"])
    data["before"] = curve_json(before, view, stoichiometric_of(day))
    return JSONResponse(data, background=BackgroundTask(model.warm_up))


@router.post("/jobs/{job}/echo.json", dependencies=[SAME_SITE])
def echo(request: Request, job: JobNumber, turned: Turned) -> JSONResponse:
    """The pressure along one pipe over a cycle, packed, with the pipe's outline."""
    model, state, _ = _dialled(request, job, turned)
    if turned.cylinder not in state.setup.exhaust.route:
        raise UsageError(words.TEXT["change_no_cylinder"].format(number=turned.cylinder))
    field = model.echo(state.setup, turned.rpm, turned.cylinder, LEVELS[turned.level])
    return JSONResponse(
        {**page_data(field, *FINENESS[turned.level]), "sentence": figure_words.echo_sentence(field), "rpm": turned.rpm}
    )


@router.post("/jobs/{job}/keep", dependencies=[SAME_SITE])
def keep(
    request: Request, job: JobNumber, name: Annotated[str, Form(max_length=100)],
    setup: Annotated[str, Form(max_length=100)], dials: Annotated[str, Form(max_length=4000)] = "{}",
) -> Response:  # fmt: skip
    """Keep a turned machine as a setup of the job."""
    import json

    from pydantic import ValidationError

    desk: Desk = request.app.state.desk
    try:
        turned = Turned(setup=setup, dials=json.loads(dials))
    except (ValueError, ValidationError):
        raise UsageError(words.UNREADABLE) from None
    _, state, _ = _dialled(request, job, turned)
    if not state.rows:
        raise UsageError(words.TEXT["change_nothing"])
    desk.store.add_setup(job, name, state.rows, state.words, based_on=turned.setup)
    return see(f"/jobs/{job}")


def _dialled(request: Request, job: int, turned: Turned) -> tuple[LiveModel, Dialled, Day]:
    desk: Desk = request.app.state.desk
    day = desk.day(job)
    models: LiveModels = request.app.state.models
    machine = day.machine(turned.setup)
    state = dialled(machine, turned.dials, _catalogue(desk))
    return models.model(request.state.visit, day, machine.name), state, day


def _catalogue(desk: Desk) -> Any:
    return shop_catalogue(desk.folder)


def _free_name(day: Day) -> str:
    names = {setup.name for setup in day.session.setups}
    return next((n for n in "BCDEFGHIJKLMNOPQRSTUVWXYZ" if n not in names), "next")


def shown_dial(dial: Dial, view: View) -> dict[str, Any]:
    """A dial as a page shows it: `scale` from what it holds to what its slider holds, `factor` to what is shown."""
    unit, scale = SHOWN[dial.kind]
    factor = scale
    if dial.kind == "length" and view.lengths == "in":
        unit, factor = "in", view.length_of(1.0)
    fine = dial.kind == "length" and (bool(dial.choices) or dial.high < 0.03)
    digits = (4 if fine else 2) if unit == "in" else 2 if dial.choices and dial.kind == "length" else 0
    return {
        "name": dial.name, "title": dial.title, "kind": dial.kind, "value": dial.value, "low": dial.low,
        "high": dial.high, "step": dial.step, "choices": list(dial.choices), "part_of": dial.part_of, "unit": unit,
        "scale": scale, "factor": factor, "digits": digits,
    }  # fmt: skip


def curve_json(curve: LiveCurve, view: View, stoichiometric: float) -> dict[str, Any]:
    """A model curve as the chart draws it."""
    return {
        "kind": "model", "level": curve.level, "rpm": rounded(curve.rpm),
        "torque": rounded(view.torque_of(float(v)) for v in curve.torque),
        "lambda": rounded(view.mixture_of(float(v), stoichiometric) for v in curve.lambda_),
    }  # fmt: skip


def gains_json(curve: LiveCurve) -> dict[str, Any] | None:
    """What the change does against the pulls, with 80 % intervals; None without pulls."""
    found = curve.forecast
    if found is None:
        return None
    numbers = [found.gain.value, found.top.value, found.hole.value]
    if not all(math.isfinite(v) for v in numbers) or not np.isfinite(curve.torque).all():
        return None
    return {
        "band": found.gain.as_json(), "bottom": found.bottom and found.bottom.as_json(), "top": found.top.as_json(),
        "leanest": found.leanest and found.leanest.as_json(3),
    }  # fmt: skip
