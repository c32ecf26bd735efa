"""From the answer of a session to the story that the report sets out."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from pulsewright.bench.change_words import changes_in_words
from pulsewright.bench.session import Session
from pulsewright.cause.evidence import doubted_sensor
from pulsewright.figures.curves import MeasuredCurve, ModelCurve, Role
from pulsewright.fit.identifiability import HARDLY, TELLS, Learned
from pulsewright.fit.unknowns import TRIM_NAMES
from pulsewright.pulls.comparison import Comparison
from pulsewright.pulls.setup_curves import SetupCurves
from pulsewright.remedies.explain import Answer
from pulsewright.report.change_our_mind import change_our_mind
from pulsewright.report.story import (
    Assumed,
    Condition,
    Evidence,
    FitStory,
    FollowedSetup,
    Hole,
    Leanest,
    NextStep,
    SafetyNote,
    Share,
    Story,
    Tried,
    Unexplained,
)
from pulsewright.simulate.echo_field import EchoField

KELVIN = 273.15
IN_THE_CONDITIONS = ("torque corrected by", "riding band cut to")  # notes that say nothing unknown
DANGEROUS = "not safe as it is: see leanest point and safety"


def story_of(answer: Answer, field: EchoField | None = None) -> Story:
    """Everything that the page needs; `field` is the echo at the hole, where one was computed."""
    from pulsewright.figures.echo_picture import echo_svg
    from pulsewright.figures.words import echo_sentence

    e, session, pulls = answer.explanation, answer.session, answer.pulls
    best = best_setup(answer)
    return Story(
        machine=machine_name(session),
        verdict=e.verdict,
        complaint=session.complaint,
        confidence=e.confidence,
        invented=session.invented,
        workshop=session.workshop,
        riding_band=pulls.riding_band,
        hole=_hole(answer),
        curves=tuple(_curve(answer, c, best) for c in pulls.setups.values()),
        model=(_model(answer),),
        target_lambda=session.target_lambda,
        lean_limit=e.leanest.gate if e.leanest else None,
        shares=tuple(Share(cause=s.cause, share=s.share, low=s.low, high=s.high) for s in e.split.shares)
        if e.split
        else (),
        shares_rpm=e.split.rpm if e.split else None,
        unexplained=_unexplained(answer),
        fit=_fit(answer),
        would_change_our_mind=change_our_mind(answer),
        echo_svg=echo_svg(field) if field else "",
        echo_svg_narrow=echo_svg(field, layout="narrow", name="echo-narrow") if field else "",
        echo_sentence=echo_sentence(field) if field else "",
        evidence=tuple(
            Evidence(what=v.what, supports=v.supports, against=v.against, weight=v.weight) for v in e.evidence
        ),
        tried=tuple(_tried(answer, c) for c in pulls.comparisons),
        next=tuple(NextStep(do=t.do, expect=t.expect, tells_apart=t.tells_apart, minutes=t.minutes) for t in e.next),
        safety=tuple(SafetyNote(what=n.what, level=n.level, setup=n.setup, rpm=n.rpm or None) for n in e.safety),
        leanest=_leanest(answer),
        unknowns=tuple(note for note in e.notes if not note.startswith(IN_THE_CONDITIONS)),
        assumptions=_assumptions(answer),
        conditions=_conditions(answer),
    )


def _unexplained(answer: Answer) -> Unexplained | None:
    """What the model leaves open at the bottom, where shares are shown."""
    left = answer.explanation.unexplained
    if left is None or answer.explanation.split is None:
        return None
    return Unexplained(share=left.share, low=left.low, high=left.high, fitted=answer.fit is not None)


def _fit(answer: Answer) -> FitStory | None:
    """How well the fitted model follows the pulls, and what was learned about the machine."""
    fit = answer.fit
    if fit is None:
        return None
    return FitStory(
        setups=tuple(
            FollowedSetup(
                setup=f.name, torque_percent=100.0 * f.torque_rms,
                lambda_=f.lambda_rms if np.isfinite(f.lambda_rms) else None,
            )
            for f in fit.setups
        ),
        draws=len(answer.machine.draws),
        learned=_named(u for u in fit.learned if u.shrinkage >= TELLS),
        open=_named(u for u in fit.learned if u.shrinkage < HARDLY),
    )  # fmt: skip


def _named(unknowns: Iterable[Learned]) -> tuple[str, ...]:
    """What unknowns are, the knots of the mixture's trim as one."""
    rows = list(unknowns)
    trims = sum(u.name in TRIM_NAMES for u in rows)
    where = "over the whole speed range" if trims == len(TRIM_NAMES) else "over part of the speed range"
    return (*(u.what for u in rows if u.name not in TRIM_NAMES), *([f"mixture trim {where}"] if trims else []))


def machine_name(session: Session) -> str:
    """What the report calls the machine."""
    return session.machine or session.setups[0].setup.name


def best_setup(answer: Answer) -> str | None:
    """The safe setup with the most proven torque in the riding band; None where none is proven."""
    dangerous = dangerous_setups(answer)
    better = [c for c in answer.pulls.comparisons if c.proven and c.mean_percent > 0.0 and c.second not in dangerous]
    return max(better, key=lambda c: c.mean_percent).second if better else None


def dangerous_setups(answer: Answer) -> set[str]:
    """Setups that must not be pulled again as they were."""
    return {note.setup for note in answer.explanation.safety if note.level == "red"}


def _hole(answer: Answer) -> Hole | None:
    hole = answer.pulls.hole
    if hole is None:
        return None
    return Hole(
        rpm_from=hole.rpm_from, rpm_to=hole.rpm_to, rpm_bottom=hole.rpm_bottom, depth=hole.depth,
        depth_low=hole.depth_low, depth_high=hole.depth_high, repeats=hole.repeats,
    )  # fmt: skip


def _curve(answer: Answer, curves: SetupCurves, best: str | None) -> MeasuredCurve:
    baseline = answer.pulls.baseline
    role = "before" if curves.name == baseline else "after" if curves.name == best else "other"
    return measured_curve(curves, role, answer.session.setup(curves.name).note or as_it_came(curves.name, baseline))


def as_it_came(setup: str, baseline: str) -> str:
    """What a setup without a note is called."""
    return "as it came" if setup == baseline else ""


def measured_curve(curves: SetupCurves, role: Role, words: str) -> MeasuredCurve:
    """Mean torque with the band in which it lies, by the scatter of whole pulls."""
    half = 2.0 * curves.torque_sd / np.sqrt(max(len(curves.pulls), 1))
    return MeasuredCurve(
        setup=curves.name, role=role, words=words, rpm=curves.rpm, torque=curves.torque, low=curves.torque - half,
        high=curves.torque + half, lambda_=curves.mixture if np.isfinite(curves.mixture).any() else (),
        pulls=len(curves.pulls),
    )  # fmt: skip


def _model(answer: Answer) -> ModelCurve:
    """The model of the baseline beside the measurement, with its own error left in."""
    model = answer.model
    known = np.isfinite(model.lambda_sensor).any()
    return ModelCurve(
        setup=model.setup, role="before",
        words="fitted to these pulls" if answer.fit else f"not fitted, torque × {model.scale:.2f}",
        rpm=model.rpm, torque=model.quantile(0.5), lambda_=model.lambda_sensor if known else (),
        torque_without_echo=model.without_echo,
    )  # fmt: skip


def _tried(answer: Answer, comparison: Comparison) -> Tried:
    setup = answer.session.setup(comparison.second)
    pulls = answer.pulls
    danger = DANGEROUS if comparison.second in dangerous_setups(answer) else ""
    doubted = doubted_sensor(pulls, comparison.first) or doubted_sensor(pulls, comparison.second)
    return Tried(
        setup=comparison.second,
        change=changes_in_words(setup),
        band_percent=comparison.mean_percent,
        low=comparison.mean_low,
        high=comparison.mean_high,
        bottom_percent=comparison.bottom_percent,
        lambda_change=None if doubted else _mixture_change(answer, comparison),
        pulls=len(pulls.setups[comparison.second].pulls),
        note="; ".join(filter(None, (setup.note, danger))),
    )


def _mixture_change(answer: Answer, comparison: Comparison) -> float | None:
    """Mean change of lambda over the riding band. [-]"""
    means = []
    for name in (comparison.first, comparison.second):
        curves = answer.pulls.setups[name]
        inside = (curves.rpm >= comparison.band[0]) & (curves.rpm <= comparison.band[1])
        known = curves.mixture[inside & np.isfinite(curves.mixture)]
        if not known.size:
            return None
        means.append(float(np.mean(known)))
    return means[1] - means[0]


def _leanest(answer: Answer) -> Leanest | None:
    point = answer.explanation.leanest
    if point is None:
        return None
    return Leanest(value=point.value, rpm=point.rpm, setup=point.setup, limit=point.gate, trustworthy=point.trusted)


def _assumptions(answer: Answer) -> tuple[Assumed, ...]:
    rows = [*answer.session.assumptions, *answer.sheet.assumptions]
    return tuple(Assumed(key=a.key, value=a.value, why=a.why) for a in rows if a.key != "air")


def _conditions(answer: Answer) -> tuple[Condition, ...]:
    pulls = answer.pulls
    weather = pulls.weather
    counts = ", ".join(f"{name} {len(c.pulls)}" for name, c in pulls.setups.items())
    rows = [("pulls used", counts), ("torque", pulls.setups[pulls.baseline].torque_at)]
    temperatures = [w.temperature - KELVIN for w in weather if np.isfinite(w.temperature)]
    pressures = [w.pressure / 1e3 for w in weather if np.isfinite(w.pressure)]
    factors = [w.factor for w in weather]
    if temperatures and pressures:
        rows.append(("air", f"{_span(temperatures, 0)} °C, {_span(pressures, 1)} kPa"))
    rows += [
        ("correction", f"{weather[0].standard}, factor {_span(factors, 3)}; it does not correct the mixture"),
        ("smoothing", "none in the numbers: bins of 50 rpm, mean of whole pulls"),
        ("lambda delay and lag taken out", f"{pulls.lag.delay:.2f} s and {pulls.lag.lag:.2f} s"),
    ]
    return tuple(Condition(name=name, value=value) for name, value in rows)


def _span(values: list[float], digits: int) -> str:
    low, high = f"{min(values):.{digits}f}", f"{max(values):.{digits}f}"
    return low if low == high else f"{low} to {high}"
