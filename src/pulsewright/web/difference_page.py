"""The difference view of step 1: any setup over any other, in this browser's units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse
from markupsafe import Markup

from pulsewright.errors import InputError
from pulsewright.figures.setup_difference import SetupDifference, setup_difference
from pulsewright.figures.setup_difference_chart import setup_difference_chart
from pulsewright.pulls.session_comparison import compare_setups
from pulsewright.report.tell import measured_curve
from pulsewright.report.trusted_svg import trusted_svg
from pulsewright.web import words
from pulsewright.web.chart_data import SCREENS, axes, curve_json, rounded
from pulsewright.web.desk import Day, Desk, stoichiometric_of
from pulsewright.web.measures import View
from pulsewright.web.numbers_typed import JobNumber
from pulsewright.web.pages import view_of

router = APIRouter()
LEAST_TORQUE, LEAST_MIXTURE = 0.04, 0.04  # shortest axes: of the first setup's highest torque, and in lambda
SetupName = Annotated[str, Query(max_length=100)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Two setups of a day against each other, in the units of one browser."""

    difference: SetupDifference
    least: tuple[float, float]  # shortest axes of torque and mixture


def seen_difference(day: Day, view: View, stoichiometric: float, first: str = "", second: str = "") -> Seen | None:
    """The second setup less the first; the last that was pulled less the baseline where none is named.

    None where only one was pulled. Raises UsageError for a name without pulls, InputError where too few speeds are
    in common.
    """
    pulls = day.pulls
    if pulls is None or len(pulls.setups) < 2:
        return None
    first = first or pulls.baseline
    second = second or next(name for name in reversed(pulls.setups) if name != first)
    found = next((c for c in pulls.comparisons if (c.first, c.second) == (first, second)), None)
    found = found or compare_setups(day.session, pulls, first, second).comparison
    a, b = pulls.setups[first], pulls.setups[second]
    unit = view.torque_of(1.0), view.mixture_of(1.0, stoichiometric)
    highest = float(np.nanmax(a.torque))
    return Seen(
        difference=setup_difference(found, a, b).shown_in(*unit),
        least=(LEAST_TORQUE * highest * unit[0], LEAST_MIXTURE * unit[1]),
    )


def still_pictures(seen: Seen, view: View) -> dict[str, Markup]:
    """One for each kind of screen, where no script draws."""

    def say(value: float, digits: int) -> str:
        return view.say(value, digits, plus=True)

    def drawn(width: float) -> str:
        units = view.torque, view.mixture
        return setup_difference_chart(seen.difference, units, least=seen.least, say=say, width=width)

    return {name: trusted_svg(drawn(width)) for name, width in SCREENS.items()}


@router.get("/jobs/{job}/difference.json")
def difference(request: Request, job: JobNumber, first: SetupName = "", second: SetupName = "") -> JSONResponse:
    """Both setups' curves, and what lies between them with the band that holds the whole curve."""
    desk: Desk = request.app.state.desk
    day, view = desk.day(job), view_of(request)
    stoichiometric = stoichiometric_of(day)
    seen = seen_difference(day, view, stoichiometric, first, second)
    if seen is None or day.pulls is None:
        raise InputError(words.TEXT["pulls_one_setup"], hint=words.TEXT["pulls_one_setup_hint"])
    d, setups = seen.difference, day.pulls.setups
    both = (measured_curve(setups[d.first], "before", ""), measured_curve(setups[d.second], "after", ""))
    hole = setups[d.first].hole
    return JSONResponse(
        {
            **axes(view),
            "first": d.first, "second": d.second, "text": d.sentence, "band": list(d.riding_band),
            "hole": hole and [hole.rpm_from, hole.rpm_to, hole.rpm_bottom],
            "curves": [curve_json(c, c.role, view, stoichiometric) for c in both],
            "least": list(seen.least), "difference": difference_json(d),
        }
    )  # fmt: skip


def difference_json(d: SetupDifference) -> dict[str, Any]:
    """The difference as a script draws it; missing values are null."""
    return {
        "rpm": rounded(d.rpm), "torque": rounded(d.torque), "percent": rounded(d.percent),
        "lambda": rounded(d.mixture) if d.has_mixture else None,
        "trend": {"rpm": rounded(d.band_rpm), "torque": rounded(d.trend), "low": rounded(d.low),
                  "high": rounded(d.high)},
    }  # fmt: skip
