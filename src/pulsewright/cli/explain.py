"""`pulsewright explain SESSION`: where the hole comes from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import json_option, write_json

if TYPE_CHECKING:
    from pulsewright.cause.evidence import Evidence
    from pulsewright.cause.explanation import Explanation


@click.command(name="explain")
@click.argument("session", type=click.Path(path_type=Path))
@json_option
def command(session: Path, json_to: str | None) -> None:
    """Say where the hole of a SESSION folder comes from, with shares, evidence, dangers and the next test."""
    from pulsewright.bench.session import read_session
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.remedies.explain import explain_session

    day = read_session(session)
    tell_first_start()
    answer = explain_session(day, say=lambda text: click.echo(f"{text} ...", err=True))
    if json_to:
        write_json(answer.explanation.as_json(), json_to)
        return
    for line in in_lines(answer.explanation):
        click.echo(line)


def in_lines(e: Explanation) -> list[str]:
    """The explanation as text, the finding first."""
    return [
        *_verdict(e),
        *_section("Shares of the torque that comes back", _shares(e)),
        *_section("Evidence", [_evidence(v) for v in e.evidence]),
        *_section("Dangers", [_danger(n.level, n.what, n.setup, n.rpm) for n in e.safety]),
        *_section("Next", [f"{t.do}\n      expect: {t.expect}{_minutes(t.minutes)}" for t in e.next]),
        *_section("To know", list(e.notes)),
    ]


def _verdict(e: Explanation) -> list[str]:
    lines = [f"Verdict: {e.verdict} ({100.0 * e.confidence:.0f} %)"]
    if e.hole is None:
        return [*lines, "No hole of 3 % or more."]
    hole = e.hole
    repeats = "repeats" if hole.repeats else "does not repeat"
    return [
        *lines,
        f"Hole from {hole.rpm_from:.0f} to {hole.rpm_to:.0f} rpm, bottom {hole.rpm_bottom:.0f} rpm, "
        f"{100.0 * hole.depth:.1f} % deep, {repeats}.",
    ]


def _shares(e: Explanation) -> list[str]:
    if e.split is None or not e.split.shares:
        return []
    rows = [
        f"{s.cause:14s} {100.0 * s.share:3.0f} %  ({100.0 * s.low:.0f} to {100.0 * s.high:.0f})" for s in e.split.shares
    ]
    if e.unexplained is not None and e.unexplained > 0.0:
        rows.append(f"beside them, {100.0 * e.unexplained:.0f} % of the measured loss is not explained by the model")
    return rows


def _evidence(v: Evidence) -> str:
    return f"{v.what}: for {v.supports}, against {v.against} ({v.weight:+.1f})"


def _section(title: str, rows: list[str]) -> list[str]:
    return ["", title, *(f"  - {row}" for row in rows)] if rows else []


def _danger(level: str, what: str, setup: str, rpm: float) -> str:
    place = f" (setup {setup}, {rpm:.0f} rpm)" if rpm else f" (setup {setup})"
    return f"{level}: {what}{place}"


def _minutes(minutes: float) -> str:
    return f"; about {minutes:.0f} min" if minutes else ""
