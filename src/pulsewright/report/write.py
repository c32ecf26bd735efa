"""Set a story out as one self-contained page that prints on A4 and reads on a phone."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from pulsewright.figures.cause_bars import Bar, cause_bars
from pulsewright.figures.curves import MeasuredCurve
from pulsewright.figures.numbers import number
from pulsewright.figures.palette import PAPER, SLATE, css_variables
from pulsewright.figures.torque_chart import NARROW, Chart, in_the_band, torque_chart
from pulsewright.report import words
from pulsewright.report.story import Story
from pulsewright.report.trusted_svg import trusted_svg

TEMPLATES = Path(__file__).parent / "templates"
TABLE_STEP = 250.0  # [1/min] between the rows of the table of numbers


def write_report(story: Story, path: str | Path) -> Path:
    """Write the report of a story as an html file and return where it lies."""
    path = Path(path)
    path.write_text(render_report(story), encoding="utf-8")
    return path


def render_report(story: Story) -> str:
    """The report as one html text; nothing in it is fetched from anywhere."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    rooms = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,  # everything a person typed is text, never markup
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    css = rooms.get_template("report.css.j2").render(
        paper=Markup(css_variables(PAPER)), slate=Markup(css_variables(SLATE))
    )
    page = rooms.get_template("report.html.j2")
    return page.render(story=story, words=words.Words(), say=words, css=Markup(css), **_pictures(story))


def _pictures(story: Story) -> dict[str, Any]:
    chart = _chart(story)
    bars = [Bar(cause=s.cause, share=s.share, low=s.low, high=s.high) for s in story.shares]
    is_empty = chart.is_empty
    return {
        "picture_heading": _picture_heading(story),
        "has_lambda": chart.has_lambda,
        "chart_wide": "" if is_empty else trusted_svg(torque_chart(chart)),
        "chart_narrow": "" if is_empty else trusted_svg(torque_chart(chart, width=NARROW)),
        "numbers": _numbers(story),
        "bars_wide": trusted_svg(cause_bars(bars)),
        "bars_narrow": trusted_svg(cause_bars(bars, width=NARROW)),
        "echo_wide": trusted_svg(story.echo_svg),
        "echo_narrow": trusted_svg(_small(story)),
    }


def _picture_heading(story: Story) -> str:
    if story.riding_band is None:
        return words.TEXT["picture_heading_no_band"]
    has_both = {"before", "after"} <= {curve.role for curve in story.curves}
    return words.TEXT["picture_heading" if has_both else "picture_heading_one"]


def _chart(story: Story) -> Chart:
    """Before and after only, where both are there: one picture that says one thing."""
    main = tuple(c for c in story.curves if c.role in ("before", "after"))
    shown = main or story.curves
    roles = {(c.setup, c.role) for c in shown}
    chart = Chart(
        measured=shown,
        model=tuple(c for c in story.model if not shown or (c.setup, c.role) in roles),
        riding_band=story.riding_band,
        hole=story.hole,
        target_lambda=story.target_lambda,
        lean_limit=story.lean_limit,
    )
    return _cut_to_the_band(chart)


def _cut_to_the_band(chart: Chart) -> Chart:
    """Show the riding band with some room, as far as there are measurements."""
    from dataclasses import replace

    wanted = in_the_band(chart)
    speeds = [s for c in chart.measured for s in c.rpm if math.isfinite(s)]
    if wanted is None or not speeds:
        return chart
    low, high = max(wanted[0], min(speeds)), min(wanted[1], max(speeds))
    return replace(chart, rpm_range=(low, high)) if high > low else chart


def _numbers(story: Story) -> dict[str, list[Any]]:
    """Torque and lambda of before and after at round speeds in the riding band, as text."""
    curves = [c for c in story.curves if c.role in ("before", "after") and len(c.rpm) > 1]
    if not curves:
        return {"heading": [], "rows": []}
    low, high = story.riding_band or (min(min(c.rpm) for c in curves), max(max(c.rpm) for c in curves))
    first = math.ceil(low / TABLE_STEP)
    speeds = [TABLE_STEP * k for k in range(first, math.floor(high / TABLE_STEP) + 1)]
    heading = ["rpm"]
    for curve in curves:
        heading += [f"torque {curve.setup}, N·m", f"lambda {curve.setup}"]
    return {"heading": heading, "rows": [_row(speed, curves) for speed in speeds]}


def _row(speed: float, curves: list[MeasuredCurve]) -> list[str]:
    cells = [number(speed)]
    for curve in curves:
        cells += [_at(speed, curve.rpm, curve.torque, 1), _at(speed, curve.rpm, curve.lambda_, 2)]
    return cells


def _at(speed: float, speeds: Any, values: Any, digits: int) -> str:
    """The value at one speed, straight between its neighbours; words where nothing was measured."""
    import numpy as np

    if not len(values) or not min(speeds) <= speed <= max(speeds):
        return "not measured"
    value = float(np.interp(speed, np.asarray(speeds, float), np.asarray(values, float)))
    return number(value, digits) if math.isfinite(value) else "not measured"


def _small(story: Story) -> str:
    """The echo picture for a phone; the wide one again, with ids of its own, where no other was drawn."""
    again = story.echo_svg.replace('"echo-', '"small-echo-').replace("#echo-", "#small-echo-")
    return story.echo_svg_narrow or again
