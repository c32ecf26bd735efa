"""Curves as a script draws them and as a table says them, in the units of one browser."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from markupsafe import Markup

from pulsewright.figures.curves import HoleSpan, MeasuredCurve
from pulsewright.figures.torque_chart import FULL, NARROW, WIDE, Chart, colour_names, in_units, torque_chart
from pulsewright.report.tell import as_it_came, measured_curve
from pulsewright.report.trusted_svg import trusted_svg
from pulsewright.web.desk import Day
from pulsewright.web.measures import View

SCREENS = {"full": FULL, "wide": WIDE, "narrow": NARROW}  # [px] pictures of a chart as wide as the page
HALVES = {"wide": WIDE, "narrow": NARROW}  # of one beside something else


def measured_chart(day: Day) -> Chart | None:
    """Every setup that was pulled; None without pulls."""
    pulls = day.pulls
    if pulls is None:
        return None
    hole = pulls.hole
    last = list(pulls.setups)[-1]
    return Chart(
        measured=tuple(
            measured_curve(
                curves, "before" if name == pulls.baseline else "after" if name == last else "other",
                day.session.setup(name).note or as_it_came(name, pulls.baseline),
            )
            for name, curves in pulls.setups.items()
        ),
        riding_band=pulls.riding_band,
        hole=hole and HoleSpan(rpm_from=hole.rpm_from, rpm_to=hole.rpm_to, rpm_bottom=hole.rpm_bottom),
        target_lambda=day.session.target_lambda,
    )  # fmt: skip


def stills_of(chart: Chart, view: View, stoichiometric: float, sizes: Mapping[str, float]) -> dict[str, Markup]:
    """The chart as pictures in the units of one browser, one for each kind of screen."""
    mixture = view.mixture, view.mixture_of(1.0, stoichiometric)
    shown = in_units(chart, (view.torque, view.torque_of(1.0)), mixture, view.say)
    return {name: trusted_svg(torque_chart(shown, width=width)) for name, width in sizes.items()}


def chart_json(chart: Chart, view: View, stoichiometric: float) -> dict[str, Any]:
    """The chart as plain data; missing values are null."""
    tones = colour_names(chart)
    target = chart.target_lambda
    return {
        **axes(view),
        "band": chart.riding_band,
        "hole": chart.hole and [chart.hole.rpm_from, chart.hole.rpm_to, chart.hole.rpm_bottom],
        "target": target and rounded(view.mixture_of(v, stoichiometric) for v in target),
        "curves": [curve_json(c, tones[c.setup, c.role], view, stoichiometric) for c in chart.measured],
    }


def curve_json(curve: MeasuredCurve, tone: str, view: View, stoichiometric: float) -> dict[str, Any]:
    """One measured curve with its band, in a colour of the theme."""
    c = curve

    def torque(values: Iterable[float]) -> list[float | None]:
        return rounded(view.torque_of(float(v)) for v in values)

    return {
        "name": c.setup, "words": c.words, "role": c.role, "tone": tone, "kind": "measured",
        "rpm": rounded(c.rpm), "torque": torque(c.torque), "low": torque(c.low), "high": torque(c.high),
        "lambda": rounded(view.mixture_of(float(v), stoichiometric) for v in c.lambda_),
    }  # fmt: skip


def axes(view: View) -> dict[str, Any]:
    """What stands beside the axes."""
    return {
        "torqueUnit": view.torque,
        "mixtureUnit": view.mixture,
        "torqueDigits": 1,
        "mixtureDigits": 1 if view.mixture == "AFR" else 2,
        "comma": view.decimal == "comma",
    }


def rounded(values: Iterable[float]) -> list[float | None]:
    """Six digits, null where there is no number."""
    return [float(f"{v:.6g}") if v is not None and math.isfinite(v) else None for v in np.asarray(list(values), float)]
