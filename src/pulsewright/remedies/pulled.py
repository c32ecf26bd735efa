"""Setups of the session that were pulled already, judged by what they did on the dyno instead of by a forecast.

Torque and lambda are the measured ones; only knock, and how far the leanest cylinder lies from the sensor, come
from the model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from pulsewright.bench.change_words import changes_in_words
from pulsewright.bench.session import Session, SessionSetup
from pulsewright.fit.machine import Draw
from pulsewright.pulls.comparison import Comparison
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.remedies.candidates import Candidate
from pulsewright.remedies.catalogue import EXHAUST, FUEL, IGNITION, INTAKE, OWNED, PULLED, Entry
from pulsewright.remedies.change_rows import Option
from pulsewright.remedies.forecast import SHOWN_HOLE, Forecast, forecast, usable_draws
from pulsewright.remedies.gates import refusals
from pulsewright.remedies.interval import HALF_OF_80, Interval
from pulsewright.remedies.loudness import loudness
from pulsewright.remedies.ranking import Judged
from pulsewright.remedies.reference import Reference, reference_of
from pulsewright.remedies.search import Search, forecast_on_draws, only
from pulsewright.remedies.trials import TrialCurves

TO_80 = HALF_OF_80 / 1.96  # from a 95 % interval, taken as normal
MINUTES = {FUEL: 15.0, EXHAUST: 20.0, IGNITION: 15.0, INTAKE: 15.0}  # to put it back, common practice
GROUP_OF = {"carburettor": FUEL, "fuel": FUEL, "exhaust": EXHAUST, "ignition": IGNITION, "intake": INTAKE}


def pulled_setups(session: Session, pulls: SessionPulls, search: Search) -> list[Judged]:
    """Every other setup that has pulls and changes parts, against the machine that the search starts from."""
    found = []
    for comparison in pulls.comparisons:
        setup = session.setup(comparison.second)
        if comparison.first != search.machine.name or not setup.changes:
            continue
        candidate = _candidate(search, setup)
        if candidate is not None:
            found.append(_judged(session, pulls, search, candidate, comparison))
    return found


def _candidate(search: Search, setup: SessionSetup) -> Candidate | None:
    """The setup as a candidate, one option for every part of the machine that it touches; None for other parts."""
    by_group: dict[str, list[tuple[str, Any]]] = {}
    for path, value in setup.changes:
        group = GROUP_OF.get(path.split(".")[0])
        if group is None:
            return None
        by_group.setdefault(group, []).append((path, value))
    options = [_option(setup, group, rows, first=k == 0) for k, (group, rows) in enumerate(by_group.items())]
    return Candidate(
        options=tuple(options), setup=setup.setup, text=setup.text,
        loudness=loudness(search.machine.setup, setup.setup),
    )  # fmt: skip


def _option(setup: SessionSetup, group: str, rows: Sequence[tuple[str, Any]], *, first: bool) -> Option:
    words = changes_in_words(replace(setup, changes=tuple(rows)))
    entry = Entry(
        name=f"setup {setup.name}", kind=PULLED, group=group, title=f"setup {setup.name}", minutes=MINUTES[group],
        cost=0.0, reversible=True, stock=OWNED, note="", law="", noise="", values={},
    )  # fmt: skip
    return Option(entry=entry, words=f"setup {setup.name}: {words}" if first else words, rows=tuple(rows))


def _judged(
    session: Session, pulls: SessionPulls, search: Search, candidate: Candidate, comparison: Comparison
) -> Judged:
    before, after = search.final.run([search.machine.setup, candidate.setup], search.draws)
    draws = search.final.machine.draws
    stood = search.stood(search.final, search.draws)
    model = forecast_on_draws(search.reference, draws, before, after, stood)
    own = reference_of(session, pulls, comparison.second, bins_of=search.reference)
    measured = measured_forecast(model, own, after, draws, comparison)
    hole = pulls.setups[comparison.second].hole
    depth = Interval(0.0, 0.0, SHOWN_HOLE)
    if hole is not None and hole.repeats:
        depth = _to_80(hole.depth, hole.depth_low, hole.depth_high)
    measured = replace(measured, hole=depth, hole_rpm=hole.rpm_bottom if hole and hole.repeats else None)
    return Judged(
        candidate=candidate, forecast=measured, refusals=refusals(own, measured), pulled=comparison.second
    )  # fmt: skip


def measured_forecast(
    model: Forecast, own: Reference, after: TrialCurves, draws: Sequence[Draw], comparison: Comparison
) -> Forecast:
    """The model's forecast of a setup with what its own pulls say put in its place."""
    good = usable_draws(after)
    bias = np.array([d.lambda_bias for d in draws[: good.size]])
    there = forecast(own, only(after, good), only(after, good), bias[good]) if good.any() else model
    bottom = comparison.bottom_percent
    return replace(
        model,
        gain=_to_80(comparison.mean_percent, comparison.mean_low, comparison.mean_high),
        bottom=_to_80(bottom, comparison.bottom_low or bottom, comparison.bottom_high or bottom)
        if bottom is not None else None,
        top=_to_80(comparison.top.percent, comparison.top.low, comparison.top.high) if comparison.top else model.top,
        leanest=there.leanest, leanest_rpm=there.leanest_rpm, lean_high=there.lean_high,
        torque=own.torque, sensor=np.where(own.mixture_known, own.mixture, np.nan),
    )  # fmt: skip


def _to_80(value: float, low: float, high: float) -> Interval:
    return Interval(value, value + TO_80 * (low - value), value + TO_80 * (high - value))
