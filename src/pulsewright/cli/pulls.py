"""`pulsewright pulls`: what is in a file, what is in a session, where its holes are."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.cli.pull_options import reading_from, reading_options
from pulsewright.cli.pull_summary import pull_summary
from pulsewright.cli.pulls_check import check
from pulsewright.cli.pulls_compare import compare
from pulsewright.cli.pulls_correct import correct

if TYPE_CHECKING:
    from pulsewright.pulls.pull import Pull
    from pulsewright.pulls.session_pulls import SessionPulls


@click.group()
def command() -> None:
    """Read pull files, list and check a session's pulls, correct them for weather, compare two
    setups, find holes."""


command.add_command(check)
command.add_command(compare, name="compare")
command.add_command(correct)


@command.command()
@click.argument("file", type=click.Path(path_type=Path))
@reading_options
@click.option("--remember", type=click.Path(path_type=Path), help="Keep how the file is read, for --mapping.")
@json_option
def read(file: Path, json_to: str | None, remember: Path | None, **said: Any) -> None:
    """Show how FILE is read: every column, its meaning, the reason and the doubts."""
    from pulsewright.pulls.mapping import fitting_mappings, mapping_of, write_mapping
    from pulsewright.pulls.read_pull import read_pulls

    reading = reading_from(**said)
    pulls = read_pulls(file, reading=reading)
    if remember:
        write_mapping(remember, mapping_of(pulls[0], reading))
    elif not said["mapping"]:
        for path in fitting_mappings(file, [c.heading for c in pulls[0].channels]):
            click.echo(f"remembered for files with these columns: --mapping {path}", err=True)
    if json_to:
        several = {"pulls": [pull_summary(pull) for pull in pulls]} if len(pulls) > 1 else {}
        write_json({"format": "pulsewright pull 1", **pull_summary(pulls[0]), **several}, json_to)
        return
    if len(pulls) > 1:
        click.echo(f"{file.name} holds {len(pulls)} pulls ({pulls[0].recipe.of('take pull')[0]['by']}):")
    for pull in pulls:
        speed = pull.engine_speed[pull.usable]
        if pull.number:
            click.echo(f"pull {pull.number}: {speed.min():.0f} to {speed.max():.0f} rpm")
    _print_pull(pulls[0])


@command.command("list")
@click.argument("session", type=click.Path(path_type=Path))
@json_option
def list_(session: Path, json_to: str | None) -> None:
    """List the pulls of SESSION with what was found in them."""
    found = _session(session)
    if json_to:
        pulls = [
            {"number": n, "used": used, "correction": w.factor, **pull_summary(p)}
            for n, (p, used, w) in enumerate(zip(found.pulls, found.used, found.weather, strict=True), start=1)
        ]
        write_json({"format": "pulsewright pulls 1", "pulls": pulls, **_session_summary(found)}, json_to)
        return
    for n, (pull, used, weather) in enumerate(zip(found.pulls, found.used, found.weather, strict=True), start=1):
        speed, torque = pull.engine_speed[pull.usable], pull.torque[pull.usable] * weather.factor
        click.echo(
            f"{n:3d}  {pull.setup:12s} {pull.file.name:16s} {speed.min():5.0f} to {speed.max():5.0f} rpm  "
            f"best {torque.max():6.1f} N m at {speed[torque.argmax()]:5.0f}  factor {weather.factor:.4f}"
            + ("" if used else "  LEFT OUT")
        )
    for comparison in found.comparisons:
        click.echo(comparison.text)
    _print_findings(found)


@command.command()
@click.argument("session", type=click.Path(path_type=Path))
@json_option
def holes(session: Path, json_to: str | None) -> None:
    """Find the torque holes of every setup in SESSION."""
    found = _session(session)
    if json_to:
        write_json({"format": "pulsewright holes 1", **_session_summary(found)}, json_to)
        return
    for name, curves in found.setups.items():
        hole = curves.hole
        if hole is None:
            click.echo(f"{name}: no hole of 3 % or more that these {len(curves.pulls)} pulls show")
            continue
        if not hole.repeats:
            click.echo(
                f"{name}: no hole that repeats; a dip of {hole.depth:.1%} at {hole.rpm_bottom:.0f} rpm is "
                f"not shown by enough of {len(curves.pulls)} pulls: make more"
            )
            continue
        click.echo(
            f"{name}: hole from {hole.rpm_from:.0f} to {hole.rpm_to:.0f} rpm, bottom "
            f"{hole.rpm_bottom:.0f} rpm, "
            f"{hole.depth:.1%} deep ({hole.depth_low:.1%} to {hole.depth_high:.1%}), "
            "repeats"
        )
    _print_findings(found)


def _session(folder: Path) -> "SessionPulls":
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_pulls import read_session_pulls

    return read_session_pulls(read_session(folder))


def _session_summary(found: "SessionPulls") -> dict[str, Any]:
    return {
        "baseline": found.baseline,
        "riding_band": list(found.riding_band),
        "hole": found.hole and found.hole.as_json(),
        "holes": {name: curves.hole and curves.hole.as_json() for name, curves in found.setups.items()},
        "comparisons": [comparison.as_json() for comparison in found.comparisons],
        "findings": [finding.as_json() for finding in found.findings],
        "lambda_lag": {"delay_s": found.lag.delay, "lag_s": found.lag.lag, "method": found.lag.method},
        "notes": list(found.notes),
        "questions": [{"about": q.about, "text": q.text, "taken": q.taken} for q in found.questions],
    }


def _print_pull(pull: "Pull") -> None:
    names = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
    click.echo(
        f"{pull.file.name}: {pull.encoding}, separated by {names[pull.separator]}, decimal '{pull.decimal}', "
        f"{pull.engine_speed.size} samples, {int(pull.usable.sum())} usable"
    )
    for c in pull.channels:
        mark = " OVERRULED" if c.overruled else ""
        click.echo(
            f"  {c.column:2d} {c.heading:24s} {c.quantity:20s} {c.unit:10s} {c.confidence:4.0%}{mark}  {c.reason}"
        )
    for note in pull.notes:
        click.echo(f"  note: {note}")
    for question in pull.questions:
        click.echo(f"  please confirm, {question.about}: {question.text} Taken: {question.taken}")


def _print_findings(found: "SessionPulls") -> None:
    for f in found.findings:
        who = ", ".join(str(x) for x in (f.setup, f.pull and f"pull {f.pull}") if x)
        click.echo(f"{f.kind}{f' ({who})' if who else ''}: {f.evidence}")
    for question in found.questions:
        click.echo(f"please confirm, {question.about}: {question.text} Taken: {question.taken}")
