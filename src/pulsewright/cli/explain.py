"""`pulsewright explain SESSION`: where the hole comes from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.cli.run_state import state_of

if TYPE_CHECKING:
    from pulsewright.cause.evidence import Evidence
    from pulsewright.cause.explanation import Explanation
    from pulsewright.remedies.explain import Answer

no_fit_option = click.option(
    "--no-fit", is_flag=True, help="Use the model as the sheet has it; faster, and less sure of the shares."
)


@click.command(name="explain")
@click.argument("session", type=click.Path(path_type=Path))
@no_fit_option
@json_option
@click.pass_context
def command(ctx: click.Context, session: Path, no_fit: bool, json_to: str | None) -> None:
    """Say where the hole of a SESSION folder comes from, with shares, evidence, dangers and the next test."""
    answer = answer_for(ctx, session, no_fit=no_fit)
    if json_to:
        write_json(answer.explanation.as_json(), json_to)
        return
    for line in in_lines(answer.explanation):
        click.echo(line)


def answer_for(ctx: click.Context, session: Path, *, no_fit: bool) -> Answer:
    """Explain a session folder on the command line; Ctrl-C ends it within a second."""
    from pulsewright.bench.session import read_session
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.many.stop_signals import stop_signals
    from pulsewright.records.folders import store_folder
    from pulsewright.remedies.explain import explain_session

    day = read_session(session)
    tell_first_start()
    store = None if no_fit else store_folder(state_of(ctx).store) / FITS
    with stop_signals() as stop:
        return explain_session(day, say=say, fitted=not no_fit, store=store, stopped=stop.is_set)


def say(text: str) -> None:
    """What is being done, beside the results."""
    click.echo(f"{text} ...", err=True)


FITS = "fits"  # folder of the record store


def in_lines(e: Explanation) -> list[str]:
    """The explanation as text, the finding first."""
    return [
        *_verdict(e),
        *_section("Shares of the torque that comes back, with 80 % intervals", _shares(e)),
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
    left = e.unexplained
    if left is not None:
        word = "less" if left.share > 0.0 else "more"
        ends = f"{100.0 * left.low:+.0f} to {100.0 * left.high:+.0f}"
        rows.append(
            f"beside them, unexplained {100.0 * left.share:+.0f} % ({ends}) of the measured loss: the model "
            f"loses {word} there than was measured"
        )
    return rows


def _evidence(v: Evidence) -> str:
    return f"{v.what}: for {v.supports}, against {v.against} ({v.weight:.1f})"


def _section(title: str, rows: list[str]) -> list[str]:
    return ["", title, *(f"  - {row}" for row in rows)] if rows else []


def _danger(level: str, what: str, setup: str, rpm: float) -> str:
    place = f" (setup {setup}, {rpm:.0f} rpm)" if rpm else f" (setup {setup})"
    return f"{level}: {what}{place}"


def _minutes(minutes: float) -> str:
    return f"; about {minutes:.0f} min" if minutes else ""
