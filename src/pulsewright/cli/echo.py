"""`pulsewright echo SHEET --rpm N -o FILE`: draw the echo in the pipe at one engine speed."""

from pathlib import Path
from typing import Any

import click

from pulsewright.errors import InputError, UsageError

ENDINGS = (".svg", ".png", ".html")


@click.command(name="echo")
@click.argument("sheet", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--rpm", type=float, required=True, metavar="N", help="Engine speed in turns per minute.")
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    required=True,
    metavar="FILE",
    help="Where to draw: .svg and .png stand still, .html moves.",
)
@click.option("--cylinder", type=click.IntRange(min=1), default=1, show_default=True, help="Whose pipe.")
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change the sheet first, such as exhaust.route.1.1.length='800 mm'. May be repeated.",
)
@click.option(
    "--ends",
    type=click.Choice(["as built", "non-reflecting"]),
    default="as built",
    show_default=True,
    help="Pipe ends; non-reflecting switches the echo off.",
)
@click.option("--theme", type=click.Choice(["paper", "slate"]), default="paper", show_default=True)
def command(
    sheet: Path, rpm: float, output: Path, cylinder: int, changes: tuple[str, ...], ends: str, theme: str
) -> None:
    """Draw the pressure in the exhaust pipe at one engine speed, and when the echo comes back.

    The pipe is drawn to scale over a millimetre rule; below it lie crank angle and place, with the wave that
    runs away and the wave that comes back apart.
    """
    _check(rpm, output)
    from pulsewright.simulate.echo import compute_echo

    setup = _setup(sheet, changes)
    _check_cylinder(cylinder, setup, sheet)
    field = compute_echo(setup, rpm=rpm, cylinder=cylinder, ends=ends)
    _draw(field, output, theme)
    from pulsewright.figures.words import echo_sentence

    click.echo(echo_sentence(field))
    click.echo(f"drawn: {output}", err=True)


def _check(rpm: float, output: Path) -> None:
    """Fail before the model runs, not after it."""
    if not 100.0 <= rpm <= 20_000.0:
        raise UsageError(f"--rpm {rpm:g} is no engine speed; 100 to 20000 is allowed")
    if output.suffix.lower() not in ENDINGS:
        known = ", ".join(ENDINGS)
        raise UsageError(f"cannot tell what to draw from the ending of '{output}'", hint=f"end it in {known}")
    if not output.parent.is_dir():
        raise InputError(f"there is no folder '{output.parent}'", hint="make it first, or name another one")


def _setup(sheet: Path, changes: tuple[str, ...]) -> Any:
    from pulsewright.bench.changes import parse_set
    from pulsewright.bench.sheet import read_setup

    return read_setup(sheet, [parse_set(change) for change in changes])


def _check_cylinder(cylinder: int, setup: Any, sheet: Path) -> None:
    if cylinder > setup.engine.cylinders:
        count = setup.engine.cylinders
        raise UsageError(f"--cylinder {cylinder}: this engine has {count}", where=str(sheet))


def _draw(field: Any, output: Path, theme: str) -> None:
    if output.suffix.lower() == ".html":
        from pulsewright.figures.echo_page import write_echo_page

        write_echo_page(field, output)
        return
    from pulsewright.figures.echo_picture import draw_echo

    draw_echo(field, output, theme=theme)
