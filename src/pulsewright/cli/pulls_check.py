"""`pulsewright pulls check`: what in a session's pulls is measurement and not engine, pull by pull."""

from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.cli.pull_summary import pull_summary

if TYPE_CHECKING:
    from pulsewright.pulls.finding import Finding
    from pulsewright.pulls.limits import Limits
    from pulsewright.pulls.pull import ChannelDecision, Pull
    from pulsewright.pulls.session_pulls import SessionPulls


@click.command()
@click.argument("session", type=click.Path(path_type=Path))
@click.option(
    "--limits", "limits_file", type=click.Path(path_type=Path), help="Your own limits, from `pulls limits -o FILE`."
)
@json_option
def check(session: Path, limits_file: Path | None, json_to: str | None) -> None:
    """Tell artefact from engine in the pulls of SESSION: findings with evidence, channels, questions."""
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.limits_file import read_limits
    from pulsewright.pulls.session_pulls import read_session_pulls

    read = read_session(session)
    found = read_session_pulls(read, limits=read_limits(limits_file) if limits_file else None)
    source = limits_file or read.limits
    if json_to:
        write_json(_as_json(found, source), json_to)
        return
    _print_findings(found)
    click.echo(limits_in_words(found.limits, source))
    if any(pull.lambdas for pull in found.pulls):
        click.echo(found.lag.text)
    for question in found.questions:
        click.echo(f"please confirm, {question.about}: {question.text} Taken: {question.taken}")
    _print_reading(found.pulls)


def _as_json(found: "SessionPulls", source: Path | None) -> dict[str, Any]:
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
        "limits": found.limits.as_json(),
        "limits_changed": sorted(found.limits.changed()),
        "limits_from": str(source) if source else None,
        "lambda_lag": {
            "delay_s": found.lag.delay, "lag_s": found.lag.lag, "method": found.lag.method,
            "text": found.lag.text,
        },
        "questions": [{"about": q.about, "text": q.text, "taken": q.taken} for q in found.questions],
        "notes": list(found.notes),
    }  # fmt: skip


def limits_in_words(limits: "Limits", source: Path | None) -> str:
    """Which limits the findings were made with."""
    from pulsewright.pulls.limits import LIMITS, USUAL

    changed = limits.changed()
    where = f" ({source})" if source else ""
    if not changed:
        return f"limits: the usual ones{where}; `pulsewright pulls limits` shows them with their reasons"
    said = [f"{n} {LIMITS[n].show(v)} instead of {LIMITS[n].show(getattr(USUAL, n))}" for n, v in changed.items()]
    return f"limits: {len(changed)} not the usual{where}: {', '.join(said)}"


def _print_findings(found: "SessionPulls") -> None:
    count = len(found.findings)
    many = "nothing found" if not count else "1 finding" if count == 1 else f"{count} findings"
    click.echo(f"{len(found.pulls)} pulls of {', '.join(found.setups)}: {many}")
    for finding in found.findings:
        click.echo(f"  {_who(finding, found)}: {finding.kind}{_odds(finding)}")
        click.echo(f"      {finding.evidence}")
    left = [n for n, used in enumerate(found.used, start=1) if not used]
    if left:
        click.echo(f"left out of every curve and comparison: {in_ranges(left)}")
    quiet = set(range(1, len(found.pulls) + 1)) - {f.pull for f in found.findings}
    if count and quiet:
        click.echo(f"nothing found in {in_ranges(quiet)} alone")


def _who(finding: "Finding", found: "SessionPulls") -> str:
    """What a finding is about, and where."""
    who = "session"
    if finding.pull:
        pull = found.pulls[finding.pull - 1]
        who = f"pull {finding.pull} ({pull.setup}, {pull.file.name})"
    elif finding.setup:
        who = f"setup {finding.setup}"
    return who + (f", {finding.rpm[0]:.0f} to {finding.rpm[1]:.0f} rpm" if finding.rpm else "")


def _odds(finding: "Finding") -> str:
    from pulsewright.pulls.finding import FACTS, odds_in_words

    return "" if finding.kind in FACTS else f", {odds_in_words(finding.strength)}"


def in_ranges(numbers: Iterable[int]) -> str:
    """Pull numbers for people: 'pulls 1 to 4, 7'."""
    ordered = sorted(numbers)
    breaks = [k for k, (a, b) in enumerate(pairwise(ordered), start=1) if b != a + 1]
    parts = [ordered[i:j] for i, j in pairwise([0, *breaks, len(ordered)])]
    said = ", ".join(f"{p[0]} to {p[-1]}" if len(p) > 2 else ", ".join(map(str, p)) for p in parts)
    return f"pull{'s' if len(ordered) > 1 else ''} {said}"


def _print_reading(pulls: "tuple[Pull, ...]") -> None:
    """How the files were read: every decision and note once, with the pulls that it holds for."""
    channels: dict[str, list[int]] = {}
    notes: dict[str, list[int]] = {}
    for number, pull in enumerate(pulls, start=1):
        for c in pull.channels:
            channels.setdefault(_channel(c), []).append(number)
        for note in pull.notes:
            notes.setdefault(note, []).append(number)
    click.echo("how the files were read (column, name, taken for, unit, how sure, why)")
    for text, holds in channels.items():
        click.echo(f"  {text}{_of(holds, len(pulls))}")
    for text, holds in notes.items():
        click.echo(f"  {text}{_of(holds, len(pulls))}")


def _channel(c: "ChannelDecision") -> str:
    mark = " OVERRULED" if c.overruled else ""
    return f"{c.column:2d} {c.heading:24s} {c.quantity:20s} {c.unit:10s} {c.confidence:4.0%}{mark}  {c.reason}"


def _of(holds: list[int], count: int) -> str:
    return "" if len(holds) == count else f" ({in_ranges(holds)})"
