"""Pages out of templates: everything a person typed is text, never markup."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from pulsewright import __version__
from pulsewright.figures.numbers import THIN_SPACE, per_cent
from pulsewright.figures.palette import PAPER, SLATE, css_variables
from pulsewright.web import words
from pulsewright.web.chart_library import mark_of_plotly
from pulsewright.web.desk import Day, Desk, stoichiometric_of
from pulsewright.web.door import Door
from pulsewright.web.measures import COOKIE, View, view_from

TEMPLATES = Path(__file__).parent / "templates"
TOLD_LAMBDAS = (0.75, 0.80, 0.85, 0.90, 0.92, 0.95, 1.00)


def page(request: Request, name: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A page of a template, with what every page has."""
    view = view_of(request)
    door: Door = request.app.state.door
    desk: Desk = request.app.state.desk
    text = _rooms().get_template(f"{name}.html.j2").render(
        t=words.TEXT, words=words, view=view, say=view.say, token=door.token(request.state.visit),
        path=request.url.path, version=__version__, read_only=desk.store.read_only,
        lambda_told=lambda_told(view, values.get("day")),
        **{"job": None, "step": "", "wide": False, **values},
    )  # fmt: skip
    return HTMLResponse(text, status_code=status)


def lambda_told(view: View, day: Day | None) -> str:
    """What lambda of a sentence is as an air-fuel ratio, for a browser that asked for that; sentences keep lambda."""
    if view.mixture != "AFR" or day is None:
        return ""
    ratio = stoichiometric_of(day)
    rows = (f"{view.say(each, 2)} = {view.say(view.mixture_of(each, ratio), 1)}" for each in TOLD_LAMBDAS)
    return words.TEXT["lambda_told"].format(rows="; ".join(rows))


def view_of(request: Request) -> View:
    """How this browser wants to see things."""
    return view_from(request.cookies.get(COOKIE, ""))


def chance_words(chance: float) -> str:
    """A probability as whole per cent; nothing is certain."""
    return f"> 99{THIN_SPACE}%" if chance > 0.99 else per_cent(chance)


def theme_css() -> str:
    """The colours of the two themes, for the page and for what scripts draw on it."""
    slate = css_variables(SLATE)
    return (
        f":root {{ {css_variables(PAPER)} color-scheme: light; }}\n"
        f"@media (prefers-color-scheme: dark) {{ :root:not([data-theme=paper]) {{ {slate} color-scheme: dark; }} }}\n"
        f":root[data-theme=slate] {{ {slate} color-scheme: dark; }}\n"
        f"@media print {{ :root, :root[data-theme=slate] {{ {css_variables(PAPER)} color-scheme: light; }} }}\n"
    )


@functools.cache
def _rooms() -> Environment:
    rooms = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    rooms.globals["plotly_mark"] = mark_of_plotly
    rooms.globals["chance_words"] = chance_words
    return rooms
