"""`pulsewright predict SHEET --rpm 1500:6000:250`: the curves of a setup by the full model."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.speeds import parse_speeds
from pulsewright.cli.throttles import parse_throttles
from pulsewright.errors import InputError, UsageError

if TYPE_CHECKING:
    from pulsewright.bench.setup import Setup
    from pulsewright.network.options import Options
    from pulsewright.pulls.measured_mixture import MeasuredMixture
    from pulsewright.simulate.fidelity import Level
    from pulsewright.simulate.prediction import Prediction
    from pulsewright.simulate.throttle_map import ThrottleMap

ENDS = ["as built", "non-reflecting"]
LEVELS = ["drag", "show", "final"]
RICHEST, LEANEST = 0.5, 1.5  # lambda that --mixture takes
GRID_LIMIT = 0.01  # largest change of torque with cells half as long
GRID_LIMIT_MISSED = 1  # exit code
DOUBTED = (
    "outside air may have reached that lambda sensor; it reads leaner than the engine runs, so torque comes out too low"
)


@click.command(name="predict")
@click.argument("sheet", metavar="SHEET")
@click.option(
    "--rpm",
    "speeds",
    metavar="SPEEDS",
    help="Engine speeds: from:to:step, a list 2000,3000 or one number. Default 1500:6000:250, in drag 1500:6000:375.",
)
@click.option(
    "--level",
    "level_name",
    type=click.Choice(LEVELS),
    default=LEVELS[-1],
    show_default=True,
    help="How finely: drag and show take longer cells and say by how much they may be off.",
)
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="PATH=VALUE",
    help="Change the sheet first, such as carburettor.1.main_jet='1.70 mm'. May be repeated.",
)
@click.option("--setup", "setup_name", metavar="NAME", help="Where SHEET is a session: which of its setups.")
@click.option(
    "--throttle",
    metavar="OPENINGS",
    help="All throttles at 40% of their way; several, 10,20,40 or 10:100:15, make a map of speed and throttle.",
)
@click.option(
    "--ends",
    type=click.Choice(ENDS),
    default=ENDS[0],
    show_default=True,
    help="Exhaust ends; non-reflecting switches the echo off.",
)
@click.option("--intake-ends", type=click.Choice(ENDS), default=ENDS[0], show_default=True, help="Intake mouths.")
@click.option("--mixture", type=float, metavar="LAMBDA", help="Premixed charge of this lambda, no carburettor.")
@click.option(
    "--hold", is_flag=True, help="Steady holds: pipe walls warmed through, where a pull leaves them half-way."
)
@click.option(
    "--mixture-from",
    metavar="SESSION",
    help="Premixed charge of the lambda that the pulls of a session show, no carburettor.",
)
@click.option(
    "-o",
    "picture",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.svg",
    help="Draw the map of several throttle openings.",
)
@click.option("--csv", "csv_to", metavar="FILE", help="Write the curves as comma-separated values, '-' to print.")
@click.option("--grid-check", is_flag=True, help="Compare with cells half as long; exit code 1 above 1 %.")
@click.option("--assumptions", "all_assumptions", is_flag=True, help="Print every assumption with its reason.")
@click.option("--quiet", "-q", is_flag=True, help="No progress.")
@json_option
def command(
    sheet: str, speeds: str | None, level_name: str, changes: tuple[str, ...], setup_name: str | None,
    throttle: str | None, ends: str, intake_ends: str, mixture: float | None, hold: bool, mixture_from: str | None,
    picture: Path | None, csv_to: str | None, grid_check: bool, all_assumptions: bool, quiet: bool,
    json_to: str | None,
) -> int:  # fmt: skip
    """Predict torque, filling, mixture and what the sensors would read, over engine speed.

    SHEET is a setup sheet, or a session folder with its setups.
    """
    asked_rpm = parse_speeds(speeds) if speeds else None
    _check_mixture(mixture, mixture_from)
    _check_targets(json_to, csv_to, str(picture) if picture else None)
    openings = parse_throttles(throttle) if throttle else []
    if len(openings) > 1:
        _check_map(csv_to, grid_check, mixture, mixture_from, ends, intake_ends)
    elif picture:
        raise UsageError(
            "-o draws a map, and there is but one throttle opening", hint="ask for several: --throttle 5,20,50,100"
        )
    from pulsewright.bench.throttle import throttle_of, with_throttle
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.cli.sheet_argument import setup_of
    from pulsewright.cli.throttle_table import print_cruise
    from pulsewright.network.options import Options, steady_hold
    from pulsewright.simulate.cautions import cautions
    from pulsewright.simulate.cruise import cruise_of
    from pulsewright.simulate.fidelity import LEVELS as LADDER

    level = LADDER[level_name]
    rpm = asked_rpm or parse_speeds(level.speeds)
    setup = setup_of(sheet, changes, setup_name)
    if len(openings) > 1:
        found = _map(setup, openings, rpm, level, quiet, hold=hold)
        cruise = cruise_of(found, setup.engine.cooling)
        if json_to:
            asked = {"sheet": sheet, "changes": list(changes), "hold": hold}
            more = {"cruise": cruise.as_json() if cruise else None, "name": setup.name, "conditions": asked}
            write_json({**found.as_json(), **more}, json_to)
        _show_map(found, setup.name, picture, said=json_to != STANDARD_OUTPUT)
        if cruise and json_to != STANDARD_OUTPUT:
            print_cruise(cruise, setup.engine.cooling)
        return 0
    if openings:
        setup = with_throttle(setup, openings[0])
    measured = _measured(sheet, mixture_from, setup_name, rpm) if mixture_from else None
    options = Options(exhaust_ends=ends, intake_ends=intake_ends, mixture=mixture)
    options = steady_hold(options) if hold else options
    tell_first_start()
    prediction = _predict(setup, rpm, options, measured, quiet, "predicting", level)
    warnings = cautions(prediction, setup)
    change = _grid_change(setup, prediction, options, measured, quiet, level) if grid_check else None
    if json_to:
        asked = {
            "sheet": sheet, "name": setup.name, "changes": list(changes), "ends": ends, "intake_ends": intake_ends,
            "mixture": mixture, "mixture_from": mixture_from, "throttle": throttle_of(setup), "hold": hold,
        }  # fmt: skip
        extra = {"conditions": asked, "cautions": [w.as_json() for w in warnings]}
        grid = {} if change is None else {"grid_change": change}
        write_json({**prediction.as_json(), **extra, **grid}, json_to)
    if csv_to:
        _write_csv(prediction, csv_to)
    if STANDARD_OUTPUT not in (json_to, csv_to):
        from pulsewright.cli.prediction_table import print_prediction

        print_prediction(prediction, setup, warnings, every_assumption=all_assumptions)
    return 0 if change is None else _judge_grid(prediction, change)


def _check_mixture(mixture: float | None, mixture_from: str | None) -> None:
    if mixture is not None and mixture_from is not None:
        raise UsageError("--mixture and --mixture-from cannot go together", hint="leave one of them out")
    if mixture is not None and not RICHEST <= mixture <= LEANEST:
        raise UsageError(
            f"--mixture {mixture:g} is no lambda an engine fires on; {RICHEST:g} to {LEANEST:g} is allowed",
            hint="lambda is the air-fuel ratio over the stoichiometric one, as in --mixture 0.88",
        )


def _check_map(*others: object) -> None:
    """A map takes no other choices: all of them must be as they are where nothing is said."""
    if any(other not in (None, False, ENDS[0]) for other in others):
        raise UsageError(
            "a map of several throttle openings goes only with --rpm, --level, --hold, --set, --setup and --json",
            where="--throttle",
            hint="leave the other options out, or ask for one opening",
        )


def _map(
    setup: Setup, openings: list[float], rpm: list[float], level: Level, quiet: bool, *, hold: bool
) -> ThrottleMap:
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.cli.progress import progress_of
    from pulsewright.simulate.throttle_map import throttle_map

    tell_first_start()
    with progress_of("mapping", len(rpm) * len(openings), quiet) as progress:
        return throttle_map(setup, openings, rpm, level=level, hold=hold, progress=progress)


def _show_map(found: ThrottleMap, name: str, picture: Path | None, *, said: bool) -> None:
    from pulsewright.cli.throttle_table import print_map
    from pulsewright.figures import words
    from pulsewright.figures.throttle_picture import throttle_picture

    if picture:
        picture.write_text(throttle_picture(found, words.THROTTLE_MAP.format(name=name)), encoding="utf-8")
    if said:
        print_map(found, name)


def _check_targets(json_to: str | None, csv_to: str | None, picture: str | None) -> None:
    """Fail before the model runs, not after it."""
    if json_to == csv_to == STANDARD_OUTPUT:
        raise UsageError("--json and --csv cannot both be printed", hint="write one of them to a file")
    for target in (json_to, csv_to, picture):
        if target and target != STANDARD_OUTPUT and not Path(target).absolute().parent.is_dir():
            raise InputError(f"there is no folder '{Path(target).parent}'", hint="make it first, or name another one")


def _measured(sheet: str, mixture_from: str, setup_name: str | None, rpm: list[float]) -> MeasuredMixture:
    """Lambda of the named setup's pulls where the session is SHEET itself, else of the session's baseline."""
    from pulsewright.bench.session import read_session
    from pulsewright.cli.sheet_argument import is_session
    from pulsewright.pulls.measured_mixture import measured_mixture
    from pulsewright.pulls.session_pulls import read_session_pulls

    session = read_session(mixture_from)
    name = None
    if is_session(sheet) and read_session(sheet).folder.resolve() == session.folder.resolve():
        name = setup_name or session.setups[0].name
    curve = measured_mixture(read_session_pulls(session), name)
    low, high = curve.reach
    held = f"; held outside {low:.0f} to {high:.0f} rpm" if min(rpm) < low or max(rpm) > high else ""
    many = f"{len(curve.pulls)} pull" + ("" if len(curve.pulls) == 1 else "s")
    click.echo(f"mixture: lambda of {many} of setup '{curve.setup}'{held}", err=True)
    if curve.doubted:
        click.echo(f"careful: {DOUBTED}", err=True)
    return curve


def _predict(
    setup: Setup, rpm: list[float], options: Options, mixture: MeasuredMixture | None, quiet: bool, what: str,
    level: Level,
) -> Prediction:  # fmt: skip
    from pulsewright.cli.progress import progress_of
    from pulsewright.simulate.predict import predict

    with progress_of(what, len(rpm), quiet) as progress:
        return predict(setup, rpm, options, mixture=mixture, progress=progress, level=level)


def _grid_change(
    setup: Setup, coarse: Prediction, options: Options, mixture: MeasuredMixture | None, quiet: bool,
    level: Level,
) -> list[float]:  # fmt: skip
    """Relative change of torque with cells half as long; not a number where one of the two did not converge."""
    from dataclasses import replace

    finer = replace(options, grid=0.5 * options.grid)
    fine = _predict(setup, [float(x) for x in coarse.rpm], finer, mixture, quiet, "cells half as long", level)
    both = [a == b == "converged" for a, b in zip(coarse.outcome, fine.outcome, strict=True)]
    pairs = zip(both, coarse.torque_nm, fine.torque_nm, strict=True)
    return [float(b / a - 1.0) if ok and a else float("nan") for ok, a, b in pairs]


def _judge_grid(prediction: Prediction, change: list[float]) -> int:
    """Say how much the torque depends on the cells, and return the exit code."""
    known = {rpm: c for rpm, c in zip(prediction.rpm, change, strict=True) if c == c}
    left_out = len(change) - len(known)
    said = f"; {left_out} of {len(change)} speeds did not converge and are left out" if left_out else ""
    if not known:
        click.echo(f"grid check: nothing to compare{said}", err=True)
        return GRID_LIMIT_MISSED
    for rpm, value in known.items():
        click.echo(f"  {rpm:6.0f} rpm  torque {value:+.2%} with cells half as long", err=True)
    worst = max(known, key=lambda rpm: abs(known[rpm]))
    kept = abs(known[worst]) <= GRID_LIMIT
    verdict = "within" if kept else "ABOVE"
    click.echo(
        f"grid check: largest change {known[worst]:+.2%} at {worst:.0f} rpm, {verdict} {GRID_LIMIT:.0%}{said}",
        err=True,
    )
    return 0 if kept else GRID_LIMIT_MISSED


def _write_csv(prediction: Prediction, csv_to: str) -> None:
    import csv
    import io

    from pulsewright.simulate.flat_curves import flat_curves

    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    columns = flat_curves(prediction)
    writer.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        writer.writerow(["" if value is None else value for value in row])
    if csv_to == STANDARD_OUTPUT:
        click.echo(buffer.getvalue(), nl=False)
    else:
        Path(csv_to).write_text(buffer.getvalue(), encoding="utf-8")
