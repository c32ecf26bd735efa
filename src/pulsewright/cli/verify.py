"""`pulsewright verify`: compare the physics with values from outside and show every comparison."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import json_option, write_json

if TYPE_CHECKING:
    from pulsewright.outside.check import Check

FORMAT = "pulsewright verification 1"


@click.command()
@click.option(
    "--only",
    "only",
    multiple=True,
    metavar="GROUP",
    help="Run one group of checks; may be given again. --list shows them.",
)
@click.option("--list", "list_groups", is_flag=True, help="Show the names of the groups and stop.")
@json_option
def command(only: tuple[str, ...], list_groups: bool, json_to: str | None) -> int:
    """Compare the physics with values from outside.

    Every line names what was compared, where the expected value comes from, what this installation
    computed and how far the two may differ. Exit code 1 when one of them differs by more.

    A pass means that the relations are computed as published, not that an engine will agree.
    """
    from pulsewright.outside.groups import checks_of, chosen

    names = chosen(only)
    if list_groups:
        click.echo("\n".join(names))
        return 0
    results: list[tuple[str, Check]] = []
    for name in names:
        click.echo(f"checking {name}", err=True)
        results += [(name, check) for check in checks_of(name)]
    if json_to:
        write_json(as_json(results), json_to)
    else:
        show(results)
    return 0 if all(check.passed for _, check in results) else 1


def as_json(results: list[tuple[str, Check]]) -> dict[str, Any]:
    """The verification as one object."""
    return {
        "format": FORMAT,
        "passed": all(check.passed for _, check in results),
        "failed": sum(not check.passed for _, check in results),
        "checks": [
            {
                "group": group,
                "what": check.what,
                "source": check.source,
                "expected": check.expected,
                "got": check.got,
                "kind": check.kind,
                "tolerance": check.tolerance,
                "error": check.error,
                "pass": check.passed,
            }
            for group, check in results
        ],
    }


def tolerance_text(check: Check) -> str:
    """The tolerance as a person reads it: "0.3 %", "+/-0.001", ">= 2", "<= 5"."""
    if check.kind == "relative":
        return f"{check.tolerance * 100:g} %"
    if check.kind == "absolute":
        return f"+/-{check.tolerance:g}"
    if check.kind == "at least":
        return f">= {check.expected - check.tolerance:g}"
    return f"<= {check.expected + check.tolerance:g}"


def show(results: list[tuple[str, Check]]) -> None:
    """Print the table; wide where the output is no terminal."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=200)
    table = Table(show_lines=False, header_style="bold")
    for heading in ("what", "source"):
        table.add_column(heading, overflow="fold")
    for heading in ("expected", "got", "tolerance"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("pass", no_wrap=True)
    last = None
    for group, check in results:
        if group != last:
            table.add_section()
            table.add_row(Text(group, style="bold"))
            last = group
        verdict = Text("yes", style="green") if check.passed else Text("NO", style="bold red")
        values = (f"{check.expected:.6g}", f"{check.got:.6g}", tolerance_text(check))
        table.add_row(Text(check.what), Text(check.source), *values, verdict)
    console.print(table)
    failed = sum(not check.passed for _, check in results)
    console.print(f"{len(results)} checks, {failed} failed" if failed else f"{len(results)} checks, all passed")
