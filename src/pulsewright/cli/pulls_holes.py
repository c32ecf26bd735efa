"""`pulsewright pulls holes`: where the torque holes of every setup are; and what `list` and it tell of a session."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import json_option, write_json

if TYPE_CHECKING:
    from pulsewright.pulls.hole import Hole
    from pulsewright.pulls.session_pulls import SessionPulls

FORMAT = "pulsewright holes 1"


@click.command()
@click.argument("session", type=click.Path(path_type=Path))
@json_option
def holes(session: Path, json_to: str | None) -> None:
    """Find the torque holes of every setup in SESSION.

    A dip that one pull shows, or too few, is told as seen and is not counted as a hole.
    """
    found = session_pulls(session)
    if json_to:
        write_json({"format": FORMAT, **session_summary(found)}, json_to)
        return
    for name, curves in found.setups.items():
        for line in _told(name, curves.hole, len(curves.pulls)):
            click.echo(line)
    print_findings(found)


def _told(name: str, hole: "Hole | None", pulls: int) -> list[str]:
    if hole is None:
        return [f"{name}: no hole of 3 % or more that these {pulls} pulls show"]
    if not hole.repeats:
        return [
            f"{name}: no hole that repeats; a dip of {hole.depth:.1%} at {hole.rpm_bottom:.0f} rpm was seen in too "
            f"few of {pulls} pulls and is not counted: make more"
        ]
    lines = [
        f"{name}: hole from {hole.rpm_from:.0f} to {hole.rpm_to:.0f} rpm, bottom {hole.rpm_bottom:.0f} rpm "
        f"({hole.bottom_low:.0f} to {hole.bottom_high:.0f}), {hole.depth:.1%} deep under its lower shoulder "
        f"({hole.depth_low:.1%} to {hole.depth_high:.1%}), repeats"
    ]
    if hole.loss is not None:
        loss, at, width = hole.loss.loss, hole.loss.rpm, hole.loss.width
        lines.append(
            f"   against a smooth curve without it: loses {loss.value:.1%} ({loss.low:.1%} to {loss.high:.1%}) at "
            f"{at.value:.0f} rpm ({at.low:.0f} to {at.high:.0f}), {width.value:.0f} rpm wide at half that "
            f"({width.low:.0f} to {width.high:.0f})"
        )
    return lines


def session_pulls(folder: Path) -> "SessionPulls":
    """The pulls of a session folder, read and judged."""
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_pulls import read_session_pulls

    return read_session_pulls(read_session(folder))


def session_summary(found: "SessionPulls") -> dict[str, Any]:
    """What the pulls of a session show, as plain values."""
    by_setup = {name: curves.hole for name, curves in found.setups.items()}
    return {
        "baseline": found.baseline,
        "riding_band": list(found.riding_band),
        "hole": _hole(found.hole),
        "holes": {name: _hole(hole) for name, hole in by_setup.items()},
        "not_repeated": {name: hole.as_json() for name, hole in by_setup.items() if hole and not hole.repeats},
        "comparisons": [comparison.as_json() for comparison in found.comparisons],
        "findings": [finding.as_json() for finding in found.findings],
        "lambda_lag": {"delay_s": found.lag.delay, "lag_s": found.lag.lag, "method": found.lag.method},
        "notes": list(found.notes),
        "questions": [{"about": q.about, "text": q.text, "taken": q.taken} for q in found.questions],
    }


def _hole(hole: "Hole | None") -> dict[str, Any] | None:
    """A hole with its intervals; None where it does not repeat."""
    from pulsewright.pulls.hole import counted

    if (hole := counted(hole)) is None:
        return None
    place = {"bottom_low": round(hole.bottom_low), "bottom_high": round(hole.bottom_high)}
    return {**hole.as_json(), **place, "against_smooth_curve": hole.loss and hole.loss.as_json()}


def print_findings(found: "SessionPulls") -> None:
    for f in found.findings:
        who = ", ".join(str(x) for x in (f.setup, f.pull and f"pull {f.pull}") if x)
        click.echo(f"{f.kind}{f' ({who})' if who else ''}: {f.evidence}")
    for question in found.questions:
        click.echo(f"please confirm, {question.about}: {question.text} Taken: {question.taken}")
