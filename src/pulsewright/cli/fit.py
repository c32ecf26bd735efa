"""`pulsewright fit SESSION`: the model fitted to the pulls of a session, and what they tell of the machine."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.run_state import state_of

if TYPE_CHECKING:
    from pulsewright.fit.fit import Fit
    from pulsewright.fit.identifiability import Learned

FITS = "fits"  # folder in the store
Tell = Callable[[float, str], None]


@click.command(name="fit")
@click.argument("session", type=click.Path(path_type=Path))
@click.option("--draws", type=click.IntRange(4, 400), help="Machines to draw, the best one counted in; 32 if not said.")
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Of the draws.")
@click.option("--quick", is_flag=True, help="A first fit: slopes once, and draws that are no runs of the model.")
@click.option("--quiet", "-q", is_flag=True, help="No progress.")
@json_option
@click.pass_context
def command(
    ctx: click.Context, session: Path, draws: int | None, seed: int, quick: bool, quiet: bool, json_to: str | None
) -> None:
    """Fit the model to all pulls of a SESSION folder at once, and say what they tell and what they cannot.

    Ctrl-C stops; the same command goes on. A fit that was made before from the same pulls is read back.
    """
    from pulsewright.bench.session import read_session
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.fit.fit_session import DRAWS, fit_session
    from pulsewright.many.stop_signals import stop_signals
    from pulsewright.records.folders import store_folder

    day = read_session(session)
    tell_first_start()
    store = store_folder(state_of(ctx).store) / FITS
    with stop_signals() as stop, _progress(quiet) as progress:
        fit = fit_session(
            day, draws=draws or DRAWS, seed=seed, quick=quick, store=store, progress=progress, stopped=stop.is_set
        )
    if json_to:
        write_json(fit.as_json(), json_to)
    if json_to != STANDARD_OUTPUT:
        for line in in_lines(fit):
            click.echo(line)


def in_lines(fit: Fit) -> list[str]:
    """The fit as text: how well it follows the pulls, what was learned, what the pulls cannot tell."""
    told = [row for row in fit.learned if row.verdict == "the pulls tell"]
    hardly = [row for row in fit.learned if row.verdict == "the pulls hardly tell"]
    silent = [row for row in fit.learned if row.verdict == "the pulls do not tell"]
    return [
        "How well the fitted model follows the pulls (in brackets: with its own error, alike in all setups, taken out)",
        *_follows(fit),
        *_section("What the pulls tell (80 % intervals)", [_learned(row) for row in told]),
        *_section("What they hardly tell", [_learned(row) for row in hardly]),
        *_section("What they do not tell: believed as before", [f"{row.what}: {_value(row)}" for row in silent]),
        *_section("To know", [*fit.notes, _elsewhere(fit)]),
    ]


def _follows(fit: Fit) -> list[str]:
    rows = []
    for f in fit.setups:
        text = f"  {f.name}: torque {f.torque_rms:.1%} rms ({f.torque_rms_corrected:.1%})"
        known = math.isfinite(f.lambda_rms)
        rows.append(text + (f", lambda {f.lambda_rms:.3f} ({f.lambda_rms_corrected:.3f})" if known else ", no lambda"))
    return rows


def _learned(row: Learned) -> str:
    pair = f"; goes with {row.goes_with} ({row.correlation:+.1f})" if abs(row.correlation) >= 0.5 else ""
    return f"{row.what}: {_value(row)}, before {row.prior:.3g} ± {row.prior_sd:.2g}{pair}"


def _value(row: Learned) -> str:
    unit = "" if row.unit == "-" else f" {row.unit}"
    return f"{row.value:.3g}{unit} ({row.low:.3g} to {row.high:.3g})"


def _elsewhere(fit: Fit) -> str:
    torque, mixture = fit.elsewhere
    return (
        f"in a setup that was never pulled the model may err by another {torque:.1%} of torque and {mixture:.1%} of "
        "lambda (one standard deviation)"
    )


def _section(title: str, rows: list[str]) -> list[str]:
    return ["", title, *(f"  - {row}" for row in rows)] if rows else []


@contextmanager
def _progress(quiet: bool) -> Iterator[Tell | None]:
    """Progress on a terminal; None where nobody would see it."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("fitting", total=1.0)
        yield lambda share, text: bar.update(task, completed=share, description=text)
