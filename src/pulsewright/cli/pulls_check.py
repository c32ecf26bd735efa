"""`pulsewright pulls check`: what in a session's pulls is measurement and not engine, pull by pull."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.cli.pull_summary import pull_summary

if TYPE_CHECKING:
    from pulsewright.pulls.finding import Finding
    from pulsewright.pulls.pull import ChannelDecision, Pull
    from pulsewright.pulls.session_pulls import SessionPulls


@click.command()
@click.argument("session", type=click.Path(path_type=Path))
@json_option
def check(session: Path, json_to: str | None) -> None:
    """Tell artefact from engine in the pulls of SESSION: findings with evidence, channels, questions."""
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_pulls import read_session_pulls

    found = read_session_pulls(read_session(session))
    if json_to:
        write_json(_as_json(found), json_to)
        return
    _print_channels(found.pulls)
    for number, pull in enumerate(found.pulls, start=1):
        _print_pull(number, pull, found)
    general = [f for f in found.findings if f.pull is None]
    click.echo("the session" + ("" if general else ": nothing found"))
    for finding in general:
        _print_finding(finding)
    click.echo(f"  {found.lag.text}")
    for question in found.questions:
        click.echo(f"  please confirm, {question.about}: {question.text} Taken: {question.taken}")


def _as_json(found: "SessionPulls") -> dict[str, Any]:
    from pulsewright.pulls.limits import LIMITS

    return {
        "format": "pulsewright pull check 1",
        "pulls": [
            {
                "number": n, "used": used, "correction": weather.factor, "standard": weather.standard,
                **pull_summary(pull),
                "findings": [f.as_json() for f in found.findings if f.pull == n],
            }
            for n, (pull, used, weather) in enumerate(
                zip(found.pulls, found.used, found.weather, strict=True), start=1
            )
        ],
        "findings": [f.as_json() for f in found.findings if f.pull is None],
        "limits": [limit.as_json() for limit in LIMITS],
        "lambda_lag": {
            "delay_s": found.lag.delay, "lag_s": found.lag.lag, "method": found.lag.method,
            "text": found.lag.text,
        },
        "questions": [{"about": q.about, "text": q.text, "taken": q.taken} for q in found.questions],
        "notes": list(found.notes),
    }  # fmt: skip


def odds_in_words(strength: float) -> str:
    """log10 odds for people: 'about even', 'about 30 to 1', 'over 1000 to 1'."""
    if strength >= 3.0:
        return "1000 to 1 or more"
    if strength < 0.1:
        return "about even"
    odds = 10.0**strength
    return f"about {odds:.1f} to 1" if odds < 3.0 else f"about {float(f'{odds:.1g}'):.0f} to 1"


def _print_channels(pulls: "tuple[Pull, ...]") -> None:
    """Every decision once, with the pulls that it holds for."""
    holds: dict[tuple[object, ...], list[int]] = {}
    shown: dict[tuple[object, ...], ChannelDecision] = {}
    for number, pull in enumerate(pulls, start=1):
        for c in pull.channels:
            key = (c.column, c.heading, c.quantity, c.unit, c.overruled)
            holds.setdefault(key, []).append(number)
            shown.setdefault(key, c)
    click.echo("channels")
    for key, c in shown.items():
        who = "" if len(holds[key]) == len(pulls) else f" (pulls {', '.join(map(str, holds[key]))})"
        mark = " OVERRULED" if c.overruled else ""
        click.echo(
            f"  {c.column:2d} {c.heading:24s} {c.quantity:20s} {c.unit:10s} {c.confidence:4.0%}{mark}{who}  {c.reason}"
        )


def _print_pull(number: int, pull: "Pull", found: "SessionPulls") -> None:
    own = [f for f in found.findings if f.pull == number]
    left_out = "" if found.used[number - 1] else "  LEFT OUT"
    said = "" if own or pull.notes else ": nothing found"
    click.echo(f"pull {number}, {pull.setup}, {pull.file.name}{left_out}{said}")
    for finding in own:
        _print_finding(finding)
    for note in pull.notes:
        click.echo(f"  note: {note}")


def _print_finding(finding: "Finding") -> None:
    where = f", {finding.rpm[0]:.0f} to {finding.rpm[1]:.0f} rpm" if finding.rpm else ""
    who = f" ({finding.setup})" if finding.setup and finding.pull is None else ""
    click.echo(f"  {finding.kind}{who}{where}, {odds_in_words(finding.strength)}: {finding.evidence}")
