"""`pulsewright check SHEET`: what was read, and what had to be assumed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.bench.assumption import Assumption
    from pulsewright.bench.session import Session
    from pulsewright.bench.setup import Setup

FORMAT = "pulsewright check 1"


@click.command()
@click.argument("sheet", metavar="SHEET")
@click.option("--set", "changes", metavar="PATH=VALUE", multiple=True, help="Change one value; may be repeated.")
@click.option("--ranking", is_flag=True, help="Say what every unknown costs in certainty, by the model.")
@click.option("--band", metavar="LOW:HIGH", help="With --ranking: engine speeds to judge by, else the riding band.")
@json_option
def command(sheet: str, changes: tuple[str, ...], ranking: bool, band: str | None, json_to: str | None) -> None:
    """Check a setup sheet, or a session folder with its sheets.

    Prints what was read and every value that is not on the sheet and had to be assumed, with the reason.
    """
    from pathlib import Path

    if band and not ranking:
        raise UsageError("--band goes with --ranking", hint="add --ranking, or leave --band out")
    if ranking:
        from pulsewright.cli.ranking_table import rank_sheet

        rank_sheet(sheet, changes, band, json_to)
        return
    if Path(sheet).is_dir() or Path(sheet).name == "session.toml":
        _check_session(sheet, changes, json_to)
    else:
        _check_sheet(sheet, changes, json_to)


def _check_sheet(sheet: str, changes: tuple[str, ...], json_to: str | None) -> None:
    from pulsewright.bench.changes import parse_set
    from pulsewright.bench.plain import plain_assumptions, plain_setup
    from pulsewright.bench.sheet import read_setup

    setup = read_setup(sheet, [parse_set(change) for change in changes])
    if json_to:
        answer = {"format": FORMAT, "kind": "setup", "file": sheet, "name": setup.name}
        assumed = plain_assumptions(setup.assumptions)
        write_json({**answer, "read": plain_setup(setup), "assumptions": assumed}, json_to)
        return
    click.echo(f"{sheet}: {setup.name}")
    _print_setup(setup)
    _print_assumptions(setup.assumptions)


def _check_session(folder: str, changes: tuple[str, ...], json_to: str | None) -> None:
    from pulsewright.bench.plain import plain_assumptions, plain_session
    from pulsewright.bench.session import read_session

    if changes:
        raise UsageError("--set changes a sheet, not a session", hint="write a setup with based_on and change")
    session = read_session(folder)
    if json_to:
        answer = {"format": FORMAT, "kind": "session", "file": folder, "read": plain_session(session)}
        write_json({**answer, "assumptions": plain_assumptions(session.assumptions)}, json_to)
        return
    _print_session(session)


def _print_setup(setup: Setup) -> None:
    from pulsewright.bench.describe import describe

    for part, text in describe(setup):
        _print_wrapped(part, text)


def _print_wrapped(label: str, text: str, width: int = 16) -> None:
    from shutil import get_terminal_size
    from textwrap import wrap

    columns = max(get_terminal_size((100, 24)).columns - width - 2, 40)
    for number, line in enumerate(wrap(text, columns) or [""]):
        click.echo(f"  {label if number == 0 else '':{width}}{line}".rstrip())


def _print_assumptions(assumptions: tuple[Assumption, ...]) -> None:
    if not assumptions:
        click.echo("nothing had to be assumed")
        return
    click.echo(f"assumed ({len(assumptions)}):")
    for each in assumptions:
        click.echo(f"  {each.key} = {each.value}")
        _print_wrapped("", each.why, width=4)


def _print_session(session: Session) -> None:
    low, high = session.riding_band
    click.echo(f"{session.folder}: {session.complaint or 'no complaint written down'}")
    _print_wrapped("riding band", f"{low:g} to {high:g} rpm")
    if session.target_lambda:
        _print_wrapped("target lambda", "{:g} to {:g}".format(*session.target_lambda))
    for entry in session.setups:
        pulls = [pull for pull in session.pulls if pull.setup == entry.name]
        base = f", based on {entry.based_on}" if entry.based_on else ""
        note = f" ({entry.note})" if entry.note else ""
        click.echo(f"setup {entry.name}: {entry.setup.name}{base}, {_pulls(len(pulls))}{note}")
        for path, value in entry.changes:
            _print_wrapped("", f"{path} = {value}", width=4)
        if not entry.based_on:
            _print_setup(entry.setup)
            _print_assumptions(entry.setup.assumptions)
    if session.assumptions:
        click.echo("about the session file,")
        _print_assumptions(session.assumptions)


def _pulls(number: int) -> str:
    return f"{number} pull" + ("" if number == 1 else "s")
