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
from pulsewright.cli.pulls_holes import holes, print_findings, session_pulls, session_summary
from pulsewright.cli.pulls_limits import limits
from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.pulls.lambda_lag import LambdaLag
    from pulsewright.pulls.pull import Pull
    from pulsewright.pulls.reading import Reading


@click.group()
def command() -> None:
    """Read pull files, list and check a session's pulls, correct them for weather, compare two
    setups, find holes."""


command.add_command(check)
command.add_command(compare, name="compare")
command.add_command(correct)
command.add_command(limits)
command.add_command(holes)


@command.command()
@click.argument("file", type=click.Path(path_type=Path))
@reading_options
@click.option("--remember", type=click.Path(path_type=Path), help="Keep how the file is read, for --mapping.")
@click.option("--recipe", type=click.Path(path_type=Path), help="Make the pull of this recipe again, and nothing else.")
@click.option("--free-air", is_flag=True, help="FILE is a log of the sensor in clean air: judge the sensor.")
@json_option
def read(
    file: Path, json_to: str | None, remember: Path | None, recipe: Path | None, free_air: bool, **said: Any
) -> None:
    """Show how FILE is read: every column, its meaning, the reason and the doubts."""
    from pulsewright.pulls.mapping import fitting_mappings, mapping_of, write_mapping
    from pulsewright.pulls.read_pull import read_pulls
    from pulsewright.pulls.reading import from_said
    from pulsewright.pulls.replay import read_recipe, replay

    reading = reading_from(**said)
    if free_air:
        _free_air(file, reading, json_to)
        return
    if recipe:
        if any(said.values()):
            raise UsageError("a recipe says all", where="--recipe", hint="leave the other reading options out")
        pulls = [replay(file, read_recipe(recipe))]
        reading = from_said(pulls[0].recipe.said)
    else:
        pulls = read_pulls(file, reading=reading)
    if remember:
        write_mapping(remember, mapping_of(pulls[0], reading))
    elif not said["mapping"] and not recipe:
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


def _lambda_sd(pull: "Pull", lag: "LambdaLag") -> float | None:
    """Standard deviation of a lambda sample once delay and lag are taken out, middle of the pull. [-]"""
    import numpy as np

    from pulsewright.pulls.unlag import unlagged_sd

    if pull.mixture is None or pull.kind == "steps":
        return None
    sd = unlagged_sd(pull, pull.mixture, lag.lag, lag.total_sd)[pull.usable]
    return float(np.nanmedian(sd)) if np.isfinite(sd).any() else None


def _free_air(file: Path, reading: "Reading", json_to: str | None) -> None:
    """Say what every sensor reads in clean air; exit code 1 where one does not read it as such."""
    from pulsewright.pulls.free_air import free_air_check

    found = free_air_check(file, reading)
    if json_to:
        sensors = [
            {"heading": f.heading, "quantity": f.quantity, "reading": f.reading, "passes": f.passes, "text": f.text}
            for f in found
        ]
        write_json({"format": "pulsewright free air 1", "file": file.name, "sensors": sensors}, json_to)
    else:
        for each in found:
            click.echo(f"{'sound' if each.passes else 'DOUBTFUL'}: {each.text}")
    if not all(each.passes for each in found):
        raise SystemExit(1)


@command.command("list")
@click.argument("session", type=click.Path(path_type=Path))
@json_option
def list_(session: Path, json_to: str | None) -> None:
    """List the pulls of SESSION with what was found in them."""
    found = session_pulls(session)
    if json_to:
        pulls = [
            {
                "number": n,
                "used": used,
                "correction": w.factor,
                "lambda_sd": _lambda_sd(p, found.lag),
                **pull_summary(p),
            }
            for n, (p, used, w) in enumerate(zip(found.pulls, found.used, found.weather, strict=True), start=1)
        ]
        doubt = {"delay_sd_s": found.lag.delay_sd, "lag_sd_s": found.lag.lag_sd, "text": found.lag.text}
        write_json(
            {"format": "pulsewright pulls 1", "pulls": pulls, **session_summary(found), "lambda_lag_doubt": doubt},
            json_to,
        )
        return
    for n, (pull, used, weather) in enumerate(zip(found.pulls, found.used, found.weather, strict=True), start=1):
        speed, torque = pull.engine_speed[pull.usable], pull.torque[pull.usable] * weather.factor
        click.echo(
            f"{n:3d}  {pull.setup:12s} {pull.file.name:16s} {speed.min():5.0f} to {speed.max():5.0f} rpm  "
            f"best {torque.max():6.1f} N m at {speed[torque.argmax()]:5.0f}  factor {weather.factor:.4f}"
            + ("" if used else "  LEFT OUT")
        )
    doubts = [sd for pull in found.pulls if (sd := _lambda_sd(pull, found.lag)) is not None]
    if doubts:
        click.echo(
            f"{found.lag.text}; put back by them, a single lambda is known to ± {sorted(doubts)[len(doubts) // 2]:.3f}"
        )
    for comparison in found.comparisons:
        click.echo(comparison.text)
    print_findings(found)


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
    if pull.lambdas:
        click.echo(f"  mixture: {pull.mixture_is}")
    for note in pull.notes:
        click.echo(f"  note: {note}")
    for question in pull.questions:
        click.echo(f"  please confirm, {question.about}: {question.text} Taken: {question.taken}")
