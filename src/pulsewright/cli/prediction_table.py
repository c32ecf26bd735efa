"""A prediction as a person reads it: a table, cautions, what was assumed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from pulsewright.bench.throttle import throttle_of

if TYPE_CHECKING:
    import numpy as np

    from pulsewright.bench.assumption import Assumption
    from pulsewright.bench.setup import Setup
    from pulsewright.simulate.cautions import Caution
    from pulsewright.simulate.prediction import Prediction

MOST_BESIDE = 3  # sensors and pistons beside the other columns; more stand in a table of their own
WIDE = 140  # columns where the output is no terminal
NONE = "-"  # for what could not be computed
STANDING_CAUTION = (
    "The model computes and advises; prove it with a pull. Watch lambda, listen for knock, and mind carbon "
    "monoxide, noise, rollers and hot parts (docs/explanation/safety.md)."
)


def print_prediction(
    prediction: Prediction, setup: Setup, warnings: Sequence[Caution], *, every_assumption: bool
) -> None:
    """Print everything to standard output."""
    opening = throttle_of(setup)
    throttle = "" if opening >= 1.0 else f"throttle {100.0 * opening:g} %, "
    click.echo(f"{setup.name}: {throttle}{len(prediction.rpm)} speeds, {prediction.wall_s:.1f} s in the model")
    _print_level(prediction)
    _print_tables(prediction)
    _print_outcomes(prediction)
    _print_cylinders(prediction)
    _print_cautions(prediction, warnings)
    _print_assumptions(prediction.assumptions, every_assumption)
    click.echo(_wrapped(STANDING_CAUTION))


def _print_level(prediction: Prediction) -> None:
    half, nine = (100.0 * prediction.level_error[each] for each in ("half", "nine_in_ten"))
    if nine > 0.0:
        click.echo(
            _wrapped(
                f"Level {prediction.level}: torque is within {half:g} % of level final at half of all speeds, within "
                f"{nine:g} % at nine of ten, as measured on sheets drawn at random."
            )
        )


def columns_of(p: Prediction) -> list[tuple[str, list[str]]]:
    """Heading (lines split by a line feed) and texts of every column."""
    columns = [
        ("rpm", _texts(p.rpm, "{:.0f}")),
        ("torque\nN·m", _texts(p.torque_nm, "{:.1f}")),
        ("power\nkW", _texts(p.power_kw, "{:.1f}")),
        ("filling\n%", _texts(100.0 * p.volumetric_efficiency, "{:.1f}")),
        ("lambda\ndrawn", _texts(p.lambda_delivered, "{:.3f}")),
        ("lambda\ntrapped", _texts(p.lambda_trapped, "{:.3f}")),
    ]
    beside = len(p.lambda_sensor) + len(p.piston_lift_mm) <= MOST_BESIDE
    columns += sensor_columns(p) if beside else []
    columns += [
        ("residual\n%", _texts(100.0 * p.residual_fraction, "{:.1f}")),
        ("reversed\nair %", _texts(100.0 * p.reversed_air_fraction, "{:.1f}")),
        ("exhaust\n°C", _texts(p.exhaust_temperature_k - 273.15, "{:.0f}")),
        ("back press.\nkPa", _texts(p.back_pressure_kpa, "{:.1f}")),
        ("knock\nmargin", _texts(p.knock_margin, "{:+.2f}")),
        *(piston_columns(p) if beside else []),
        ("cycles", [str(n) for n in p.cycles]),
        ("outcome", [short_outcome(text) for text in p.outcome]),
    ]
    return columns


def sensor_columns(p: Prediction) -> list[tuple[str, list[str]]]:
    """Lambda at every sensor."""
    return [(f"sensor\n{name}", _texts(curve, "{:.3f}")) for name, curve in p.lambda_sensor.items()]


def piston_columns(p: Prediction) -> list[tuple[str, list[str]]]:
    """Lift of every piston."""
    return [(f"piston\n{n} mm", _texts(lift, "{:.1f}")) for n, lift in p.piston_lift_mm.items()]


def short_outcome(text: str) -> str:
    """What stands before the colon: "converged", "misfire", "does not settle"."""
    return text.split(":")[0]


def _texts(values: np.ndarray, form: str) -> list[str]:
    return [form.format(v) if math.isfinite(v) else NONE for v in values]


def _print_tables(prediction: Prediction) -> None:
    _print_columns(columns_of(prediction))
    more = [*sensor_columns(prediction), *piston_columns(prediction)]
    if len(more) > MOST_BESIDE:
        _print_columns([("rpm", _texts(prediction.rpm, "{:.0f}")), *more])


def _print_columns(columns: list[tuple[str, list[str]]]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=WIDE)
    table = Table(box=None, header_style="bold", pad_edge=False)
    for heading, _ in columns:
        table.add_column(Text(heading), justify="left" if heading == "outcome" else "right")
    for row in zip(*(texts for _, texts in columns), strict=True):
        table.add_row(*(Text(text) for text in row))
    console.print(table)


def _print_outcomes(prediction: Prediction) -> None:
    """The whole text of every outcome that the table cuts short."""
    from pulsewright.simulate.cautions import stretches

    for outcome in dict.fromkeys(prediction.outcome):
        if outcome != short_outcome(outcome):
            at = tuple(float(r) for r, o in zip(prediction.rpm, prediction.outcome, strict=True) if o == outcome)
            click.echo(_wrapped(f"{stretches(at, prediction.rpm)}: {outcome}"))


def _print_cylinders(p: Prediction) -> None:
    """How far the cylinders of one engine differ, where it is the widest."""
    if len(p.per_cylinder) < 2:
        return
    mixture = _by_cylinder(p, "lambda_trapped")
    spread = [max(row) / min(row) - 1.0 if all(math.isfinite(x) for x in row) else math.nan for row in mixture]
    known = [n for n, each in enumerate(spread) if math.isfinite(each)]
    if not known:
        return
    widest = max(known, key=lambda n: spread[n])
    said = ", ".join(f"{name} {x:.3f}" for name, x in zip(p.per_cylinder, mixture[widest], strict=True))
    torque = _by_cylinder(p, "indicated_torque_nm")[widest]
    apart = 100.0 * (max(torque) - min(torque)) / max(abs(x) for x in torque)
    click.echo(
        _wrapped(
            f"Cylinders: lambda differs most at {p.rpm[widest]:.0f} rpm, by {100.0 * spread[widest]:.1f} % ({said}), "
            f"the torque of their gas there by {apart:.1f} %. All of them at every speed: --json, per_cylinder."
        )
    )


def _by_cylinder(p: Prediction, curve: str) -> list[tuple[float, ...]]:
    """A curve of every cylinder, speed by speed."""
    return list(zip(*(curves[curve].tolist() for curves in p.per_cylinder.values()), strict=True))


def _print_cautions(prediction: Prediction, warnings: Sequence[Caution]) -> None:
    from pulsewright.simulate.cautions import stretches

    alike: dict[tuple[str, tuple[float, ...], str], list[str]] = {}
    for caution in warnings:
        of = alike.setdefault((caution.level, caution.rpm, caution.what), [])
        of += [caution.cylinder] if caution.cylinder else []
    for (level, rpm, what), cylinders in alike.items():
        who = f"{'cylinders' if len(cylinders) > 1 else 'cylinder'} {', '.join(cylinders)} at " if cylinders else ""
        click.echo(_wrapped(f"CAUTION ({level}): {who}{stretches(rpm, prediction.rpm)}: {what}"))


def _print_assumptions(assumptions: Sequence[Assumption], every: bool) -> None:
    if not assumptions:
        return
    if not every:
        listed = "; ".join(f"{a.key} = {a.value}" for a in assumptions)
        click.echo(_wrapped(f"Assumed ({len(assumptions)}; --assumptions gives the reasons): {listed}"))
        return
    click.echo(f"Assumed ({len(assumptions)}):")
    for each in assumptions:
        click.echo(f"  {each.key} = {each.value}")
        click.echo(_wrapped(each.why, "      "))


def _wrapped(text: str, indent: str = "") -> str:
    from shutil import get_terminal_size
    from textwrap import fill

    width = max(get_terminal_size((100, 24)).columns, 60)
    return fill(text, width, initial_indent=indent, subsequent_indent=indent or "  ")
