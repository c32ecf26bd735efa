"""The options that say how a pull file is to be read, the same for every command that takes one."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.bench.roller import RollerDyno
    from pulsewright.pulls.reading import Reading

_OPTIONS = (
    click.option("--as", "units", multiple=True, metavar="CHANNEL=UNIT", help="Name a unit, as in torque=Nm."),
    click.option(
        "--column",
        "columns",
        multiple=True,
        metavar="CHANNEL=HEADING",
        help="Say which column is which. Several lambda sensors: lambda:1, lambda:2 by cylinder, lambda:collector.",
    ),
    click.option("--decimal", type=click.Choice([".", ","]), help="Decimal mark, where the file does not show it."),
    click.option(
        "--afr",
        type=float,
        help="Stoichiometric air-fuel ratio of the fuel, to show lambda. Petrol: 14.7.",
    ),
    click.option("--roller-inertia", help="Of an inertia roller, as in '3.2 kg m^2', where the file has no torque."),
    click.option("--roller-inertia-tolerance", help="How well that is known, as in '2 %' (two standard deviations)."),
    click.option("--roller-circumference", help="As in '1.2 m'."),
    click.option("--engine-inertia", help="Of crank, flywheel and clutch, as in '0.05 kg m^2'."),
    click.option("--sheet", help="Which sheet of a spreadsheet."),
    click.option("--pull", type=int, help="Which pull, counting from 1, of a file that holds several."),
    click.option(
        "--mapping",
        type=click.Path(path_type=Path),
        help="Read as remembered in this file; what is said besides goes first.",
    ),
    click.option("--wheel", is_flag=True, help="Torque and power are at the wheel."),
)


def reading_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the reading options to a command; `reading_from` takes what they were given."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


def reading_from(
    *,
    units: tuple[str, ...],
    columns: tuple[str, ...],
    decimal: str | None,
    afr: float | None,
    roller_inertia: str | None,
    roller_inertia_tolerance: str | None,
    roller_circumference: str | None,
    engine_inertia: str | None,
    sheet: str | None,
    pull: int | None,
    mapping: Path | None,
    wheel: bool,
) -> "Reading":
    """What the person said, as the reader wants it."""
    from pulsewright.pulls.mapping import read_mapping, with_mapping
    from pulsewright.pulls.reading import PETROL_AFR, Reading

    reading = Reading(
        units=pairs(units, "--as"),
        columns=pairs(columns, "--column"),
        decimal=decimal,
        stoichiometric_afr=afr or PETROL_AFR,
        fuel="" if afr is None else f"the fuel of {afr:g}",
        torque_at="wheel" if wheel else "engine",
        roller=_roller(roller_inertia, roller_circumference, engine_inertia, roller_inertia_tolerance),
        sheet=sheet,
        pull=pull,
    )
    return with_mapping(reading, read_mapping(mapping), torque_said=wheel) if mapping else reading


def _roller(
    inertia: str | None, circumference: str | None, engine: str | None, tolerance: str | None
) -> "RollerDyno | None":
    import math

    from pulsewright.bench.roller import RollerDyno
    from pulsewright.units import quantity

    if not (inertia or circumference or engine or tolerance):
        return None
    if inertia is None or circumference is None:
        raise UsageError(
            "a roller needs its inertia and its circumference", where="--roller-inertia",
            hint="as in --roller-inertia '3.2 kg m^2' --roller-circumference '1.2 m'",
        )  # fmt: skip
    return RollerDyno(
        inertia=quantity(inertia, "inertia"),
        inertia_tolerance=quantity(tolerance, "fraction") if tolerance else 0.0,
        radius=quantity(circumference, "length") / (2.0 * math.pi),
        engine_inertia=quantity(engine, "inertia") if engine else 0.0,
    )


def pairs(texts: tuple[str, ...], option: str) -> dict[str, str]:
    """CHANNEL=VALUE texts as a dictionary."""
    found = {}
    for text in texts:
        channel, mark, value = text.partition("=")
        if not mark or not value:
            raise UsageError(f"'{text}' is not CHANNEL=VALUE", where=option, hint="as in torque=Nm")
        found[channel.strip()] = value.strip()
    return found
