"""All findings of a session: what in its pulls is measurement and not engine."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.session import Session, SessionSetup
from pulsewright.pulls.dilution import dilution_finding, torque_answer
from pulsewright.pulls.drift import drift_finding
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.heat import heat_findings
from pulsewright.pulls.lambda_lag import LambdaLag
from pulsewright.pulls.late_lambda import late_lambda
from pulsewright.pulls.limits import Limits
from pulsewright.pulls.misfire import misfire_finding
from pulsewright.pulls.odd_pull import odd_pulls
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.pull_levels import PullLevels
from pulsewright.pulls.sensor_limit import sensor_limit
from pulsewright.pulls.setup_curves import SetupCurves, binned
from pulsewright.pulls.slip import slip_findings
from pulsewright.pulls.starvation import starvation_findings
from pulsewright.pulls.weather import Weather
from pulsewright.pulls.weather_change import weather_change
from pulsewright.pulls.wrong_count import pickup_findings


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """What is known of a session's pulls before findings are made."""

    session: Session
    pulls: list[Pull]
    weather: list[Weather]
    miscounted: dict[int, str]  # pulls (from 0) that are left out, and why
    kept: list[int]  # the others, from 0; the next three are theirs, in this order
    level: np.ndarray  # (n_kept,) log mean torque over the riding band
    head: np.ndarray  # (n_kept,) head temperature [K], NaN unknown
    levels: PullLevels
    curves: dict[str, SetupCurves]
    lag: LambdaLag


def session_findings(judged: Judged, limits: Limits) -> list[Finding]:
    """Findings of a session, strongest first."""
    pulls = judged.pulls
    used = [k not in judged.miscounted for k in range(len(pulls))]
    found = [
        *slip_findings(pulls, used, limits),
        *pickup_findings(pulls, judged.miscounted, limits),
        *_whole_pulls(judged, limits),
        *_dilution(judged.session, judged.curves, limits),
    ]
    missing = [f for n, pull in enumerate(pulls, start=1) if (f := misfire_finding(pull, n, limits))]
    for number, pull in enumerate(pulls, start=1):
        found += sensor_limit(pull, number, limits)
    for curve in judged.curves.values():
        found += _starvation(pulls, curve, {f.pull for f in missing}, limits) + _too_few(curve, limits)
    found += missing
    whole = weather_change(judged.weather, limits), late_lambda(pulls, judged.lag, limits)
    found += [f for f in whole if f]
    return sorted(found, key=lambda f: -f.strength)


def _whole_pulls(judged: Judged, limits: Limits) -> list[Finding]:
    """Heat, drift and odd pulls: what shows in the levels of whole pulls."""
    names = [judged.pulls[k].setup for k in judged.kept]
    numbers = [k + 1 for k in judged.kept]
    odd = odd_pulls(judged.levels, names, numbers, limits)
    left_out = {f.pull for f in odd}
    level = np.where([number in left_out for number in numbers], np.nan, judged.level)
    air_known = all(each.standard != "raw" for each in judged.weather)
    drift = drift_finding(level, names, judged.head, air_known=air_known, limits=limits)
    return [*heat_findings(judged.levels, names, judged.head, limits), *odd, *([drift] if drift else [])]


def _starvation(pulls: list[Pull], curve: SetupCurves, missing: set[int | None], limits: Limits) -> list[Finding]:
    """Starving pulls of one setup; those that misfire read lean by themselves and are no measure for others."""
    rows = [row for row, number in enumerate(curve.pulls) if number not in missing]
    members = [pulls[curve.pulls[row] - 1] for row in rows]
    if len(members) < 2:
        return []
    unknown = np.full(curve.rpm.shape, np.nan)
    mixtures = [unknown if p.mixture is None else binned(p, p.mixture, curve.rpm) for p in members]
    loads = [unknown if p.time is None else binned(p, p.time - p.time[0], curve.rpm) for p in members]
    return starvation_findings(
        curve.rpm, curve.torques[rows], np.vstack(mixtures), np.vstack(loads), curve.name,
        [curve.pulls[row] for row in rows], limits,
    )  # fmt: skip


def _too_few(curve: SetupCurves, limits: Limits) -> list[Finding]:
    if len(curve.pulls) >= limits.fewest_pulls:
        return []
    return [
        Finding(
            kind="too few pulls", setup=curve.name, pull=None, rpm=None, strength=1.0,
            evidence=f"{len(curve.pulls)} of at least {limits.fewest_pulls:.0f} pulls",
        )
    ]  # fmt: skip


def _dilution(session: Session, curves: dict[str, SetupCurves], limits: Limits) -> list[Finding]:
    answers = _torque_answers(session, curves)
    found = []
    for name, curve in curves.items():
        exhaust = session.setup(name).setup.exhaust
        finding = dilution_finding(name, exhaust, curve.rpm, curve.mixture, answers.get(name), limits)
        if finding:
            found.append(finding)
    return found + _same_place(session, curves, found)


def _same_place(session: Session, curves: dict[str, SetupCurves], found: list[Finding]) -> list[Finding]:
    """A diluted reading stays diluted in a setup with the same pipe and sensor, however rich its jets
    read."""
    suspected = {f.setup: f for f in found}
    more = []
    for name in curves:
        exhaust = session.setup(name).setup.exhaust
        twin = next((f for s, f in suspected.items() if s and session.setup(s).setup.exhaust == exhaust), None)
        if twin and name not in suspected:
            more.append(replace(twin, setup=name, evidence=f"same pipe and sensor as {twin.setup}: {twin.evidence}"))
    return more


def _torque_answers(session: Session, curves: dict[str, SetupCurves]) -> dict[str, float]:
    """For setups that differ in jets only: torque change seen over the change the mixture law asks for."""
    answers: dict[str, float] = {}
    for name, curve in curves.items():
        setup = session.setup(name)
        other = curves.get(setup.based_on or "")
        if other is None or not _jets_only(setup):
            continue
        rpm, here, there = np.intersect1d(curve.rpm, other.rpm, return_indices=True)
        answer = torque_answer(
            rpm, (other.mixture[there], curve.mixture[here]), (other.torque[there], curve.torque[here])
        )
        if answer is not None:
            answers[name] = answers[other.name] = answer
    return answers


def _jets_only(setup: SessionSetup) -> bool:
    return bool(setup.changes) and all(path.startswith("carburettor.") for path, _ in setup.changes)
