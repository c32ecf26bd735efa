"""`pulsewright sweep SHEET --vary PATH=a:b:n -o DIR`: many designs of one sheet, kept as they are finished."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.speeds import parse_speeds
from pulsewright.errors import CancelledError, UsageError

if TYPE_CHECKING:
    from pulsewright.many.plan import Plan
    from pulsewright.many.run_plan import Engine, Summary

LEVELS = ["drag", "show", "final"]
NOTHING_COMPUTED = 1  # exit code: no design has a curve
DEFAULT_SEED = 1


@click.command(name="sweep")
@click.argument("sheet", metavar="SHEET")
@click.option(
    "--vary",
    "variations",
    multiple=True,
    required=True,
    metavar="PATH=a:b:n",
    help="Vary one path of the sheet from a to b in n values, such as exhaust.route.1.1.length='800 mm:1000 mm:5'."
    " May be repeated: all combinations.",
)
@click.option(
    "--sample",
    nargs=2,
    type=(click.Choice(["sobol"]), click.IntRange(min=1)),
    metavar="sobol N",
    help="N designs spread evenly over the ranges in place of all combinations.",
)
@click.option("--seed", type=click.IntRange(min=0), help=f"Of the sample; {DEFAULT_SEED} if not said.")
@click.option(
    "--rpm",
    "speeds",
    default="1500:6000:250",
    show_default=True,
    metavar="SPEEDS",
    help="Engine speeds: from:to:step, a list 2000,3000 or one number.",
)
@click.option(
    "--level",
    type=click.Choice(LEVELS),
    default=LEVELS[-1],
    show_default=True,
    help="drag: for a first look through many; show: nearly final; final: for an answer.",
)
@click.option("--set", "changes", multiple=True, metavar="PATH=VALUE", help="Change the sheet first. May be repeated.")
@click.option("--setup", "setup_name", metavar="NAME", help="Where SHEET is a session: which of its setups.")
@click.option(
    "--out", "-o", "folder", required=True, type=click.Path(file_okay=False, path_type=Path), metavar="DIR",
    help="Folder for the results; the same command with the same folder goes on where it stopped.",
)  # fmt: skip
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Designs at a time on this machine; one a core if not said."
)
@click.option(
    "--cluster",
    metavar="ADDRESS|local",
    help="Compute on a Dask cluster: the address of its scheduler, or one on this machine.",
)
@click.option("--parquet", is_flag=True, help="Write the tables as Parquet too.")
@click.option("--quiet", "-q", is_flag=True, help="No progress.")
@json_option
def command(
    sheet: str, variations: tuple[str, ...], sample: tuple[str, int] | None, seed: int | None, speeds: str,
    level: str, changes: tuple[str, ...], setup_name: str | None, folder: Path, workers: int | None,
    cluster: str | None, parquet: bool, quiet: bool, json_to: str | None,
) -> int:  # fmt: skip
    """Compute many designs of one sheet, and keep every one as soon as it is finished.

    Ctrl-C stops; the same command goes on. A design that cannot be built or does not converge is a row too.
    """
    rpm = parse_speeds(speeds)
    if seed is not None and sample is None:
        raise UsageError("--seed belongs to --sample", hint="add --sample sobol N, or leave the seed out")
    from pulsewright.cli.design_progress import design_progress
    from pulsewright.cli.sheet_argument import text_of
    from pulsewright.many.run_plan import run_plan
    from pulsewright.many.stop_signals import stop_signals
    from pulsewright.many.tables import check_parquet

    if parquet:
        check_parquet()
    text, where = text_of(sheet, changes, setup_name)
    plan = _plan(text, where, variations, rpm, sample, seed, level)
    with stop_signals() as stop, design_progress(quiet) as progress:
        engine = _engine(plan, workers, cluster, stop.is_set)
        summary = run_plan(plan, folder, engine, progress=progress, parquet=parquet)
    if json_to:
        write_json(summary.as_json(), json_to)
    if json_to != STANDARD_OUTPUT:
        click.echo(told(summary))
    if summary.left:
        raise CancelledError(
            f"stopped with {summary.left} of {summary.designs} designs to go",
            where=str(folder),
            hint="the same command goes on; what is finished is kept",
        )
    return 0 if any(summary.outcomes.get(each) for each in ("converged", "not converged")) else NOTHING_COMPUTED


def told(summary: Summary) -> str:
    """The summary in words."""
    before = f", {summary.found} of them before" if summary.found else ""
    lines = [f"{summary.found + summary.computed} of {summary.designs} designs{before}, {summary.wall_s:.1f} s"]
    lines += [f"  {outcome:14s} {count}" for outcome, count in sorted(summary.outcomes.items())]
    if summary.recomputed_lines:
        lines.append(f"  {summary.recomputed_lines} damaged lines in the log; their designs were computed again")
    return "\n".join([*lines, *(f"  {path}" for path in summary.files)])


def _plan(
    text: str, where: str, variations: tuple[str, ...], rpm: list[float], sample: tuple[str, int] | None,
    seed: int | None, level: str,
) -> Plan:  # fmt: skip
    from pulsewright.many.axis import parse_vary
    from pulsewright.many.plan import Plan

    axes = tuple(parse_vary(each, text, where) for each in variations)
    paths = [axis.path for axis in axes]
    if len(set(paths)) < len(paths):
        raise UsageError("the same path is varied twice", where="--vary", hint="give each path once")
    if sample is None:
        return Plan(sheet_text=text, axes=axes, speeds=tuple(rpm), level=level)
    drawn = DEFAULT_SEED if seed is None else seed
    return Plan(sheet_text=text, axes=axes, speeds=tuple(rpm), sample=sample[1], seed=drawn, level=level)


def _engine(plan: Plan, workers: int | None, cluster: str | None, stopped: Callable[[], bool]) -> Engine:
    """Where designs are computed: threads of this process, or a cluster."""
    from functools import partial

    from pulsewright.bench.sheet import setup_from_text
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.many.code_version import code_version
    from pulsewright.many.design_model import DesignModel
    from pulsewright.many.on_cluster import on_cluster
    from pulsewright.many.on_threads import on_threads
    from pulsewright.network.options import Options
    from pulsewright.simulate.fidelity import LEVELS as FIDELITY
    from pulsewright.simulate.load_kernels import load_kernels
    from pulsewright.simulate.sweep import usable_cores

    tell_first_start()
    grid = FIDELITY[plan.level].grid
    load_kernels(
        setup_from_text(plan.sheet_text, "the sheet"), Options(grid=grid)
    )  # once, not in every worker at a time
    model = DesignModel(plan.sheet_text, plan.speeds, code_version(), plan.level)
    most = workers or usable_cores()
    if cluster is None:
        return partial(on_threads, model, workers=most, stopped=stopped)
    return partial(
        on_cluster, model, address=cluster, workers=most, stopped=stopped, tell=partial(click.echo, err=True)
    )
