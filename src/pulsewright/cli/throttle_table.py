"""A map over speed and throttle as text: where each circuit rules, the mixture, the torque."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    import numpy as np

    from pulsewright.simulate.cruise import Cruise
    from pulsewright.simulate.throttle_map import ThrottleMap

LETTERS = {"main jet": "M", "needle": "N", "idle and progression": "I", "-": "-"}
TITLE = "Which circuit gives most of the fuel, share in % (M main jet, N needle, I idle and progression)"
TABLES = (("lambda drawn", "lambda_delivered", ".2f"), ("torque in N·m", "torque_nm", ".0f"))
CONVERGED = "converged"


def print_map(found: ThrottleMap, name: str) -> None:
    """Print everything to standard output."""
    click.echo(f"{name}: {found.throttle.size} throttle openings, {found.rpm.size} speeds")
    click.echo(TITLE)
    _print(found, [[_ruled(found, k, n) for n in range(found.rpm.size)] for k in range(found.throttle.size)])
    for title, curve, form in TABLES:
        click.echo(title)
        _print(found, [[_text(x, form) for x in row] for row in found.curves[curve]])
    unsettled = sum(outcome != CONVERGED for row in found.outcome for outcome in row)
    if unsettled:
        click.echo(f"{unsettled} of {found.throttle.size * found.rpm.size} points did not settle; see --json")


def print_cruise(cruise: Cruise, cooling: str) -> None:
    """The mixture where people ride, against what is customary."""
    points = cruise.inside + cruise.richer + cruise.leaner
    openings = ", ".join(f"{100.0 * x:g}" for x in sorted(cruise.throttle))
    click.echo(
        f"Cruise ({openings} % of the throttle): lambda {cruise.richest:.2f} to {cruise.leanest:.2f}. Of {points}"
        f" points {cruise.inside} lie within {cruise.band[0]:.2f} to {cruise.band[1]:.2f}, customary for {cooling}"
        f" cooling (common practice, no published source), {cruise.richer} are richer, {cruise.leaner} leaner."
    )


def _ruled(found: ThrottleMap, opening: int, speed: int) -> str:
    name = found.ruler()[opening][speed]
    return f"{LETTERS[name]} {100.0 * found.fuel_share[name][opening, speed]:.0f}" if name != "-" else name


def _text(value: np.floating, form: str) -> str:
    return format(float(value), form) if math.isfinite(value) else "-"


def _print(found: ThrottleMap, cells: list[list[str]]) -> None:
    click.echo("throttle" + "".join(f"{rpm:8.0f}" for rpm in found.rpm))
    for opening, row in sorted(zip(found.throttle, cells, strict=True), key=lambda pair: -pair[0]):
        click.echo(f"{100.0 * opening:6.0f} %" + "".join(f"{text:>8}" for text in row))
