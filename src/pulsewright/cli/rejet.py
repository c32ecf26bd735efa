"""`pulsewright rejet SHEET --to-air '30 degC, 85 kPa'`: jets for another air, altitude or fuel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pulsewright.cli.air_text import parse_air
from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.speeds import parse_speeds
from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.bench.air import Air
    from pulsewright.bench.setup import Setup
    from pulsewright.remedies.rejet import Rejet

SPEEDS = "2000:5000:1000"
HIGHEST = 6000.0  # [m] an engine road ends below it
LOWEST = -430.0  # [m] the lowest road on land
STAMPED = (
    "Bores, not numbers: what is stamped on a jet may be its bore in hundredths of a millimetre or in thousandths of"
    " an inch, or a flow. Ask before you buy."
)


@click.command(name="rejet")
@click.argument("sheet", metavar="SHEET")
@click.option("--from-air", metavar="AIR", help="Air in which the jets are right, as '24 degC, 99.4 kPa, 45 %'.")
@click.option("--to-air", metavar="AIR", help="Air to jet for, written the same way.")
@click.option("--altitude", metavar="HEIGHT", help="Jet for the standard atmosphere at this height, as '1500 m'.")
@click.option(
    "--fuel", type=click.Choice(["petrol", "E5", "E10", "E85", "ethanol"]), help="Fuel to jet for; else the sheet's."
)
@click.option(
    "--rpm", "speeds", default=SPEEDS, show_default=True, metavar="SPEEDS", help="Speeds that the model holds."
)
@click.option("--set", "changes", multiple=True, metavar="PATH=VALUE", help="Change the sheet first. May be repeated.")
@click.option("--setup", "setup_name", metavar="NAME", help="Where SHEET is a session: which of its setups.")
@json_option
def command(
    sheet: str, from_air: str | None, to_air: str | None, altitude: str | None, fuel: str | None, speeds: str,
    changes: tuple[str, ...], setup_name: str | None, json_to: str | None,
) -> None:  # fmt: skip
    """Jets that keep lambda in another air or on another fuel: the published relation beside the model's answer.

    Without --from-air the jets are taken to be right in the air of the sheet.
    """
    rpm = parse_speeds(speeds)
    if to_air is not None and altitude is not None:
        raise UsageError("--to-air and --altitude both say the air to jet for", hint="leave one of them out")
    if to_air is None and altitude is None and fuel is None:
        raise UsageError("there is nothing to jet for", hint="say --to-air, --altitude or --fuel")
    from pulsewright.bench.fill_fuel import named_fuel
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.cli.sheet_argument import setup_of
    from pulsewright.remedies.rejet import in_other_air, rejet

    setup = setup_of(sheet, changes, setup_name)
    before = in_other_air(setup, parse_air(from_air, "--from-air") if from_air else None, None)
    air = parse_air(to_air, "--to-air") if to_air else _standard_air(altitude, before) if altitude else None
    after = in_other_air(before, air, named_fuel(fuel) if fuel else None)
    tell_first_start()
    found = rejet(before, after, rpm)
    if json_to:
        write_json({**found.as_json(), "sheet": sheet, "name": setup.name, "changes": list(changes)}, json_to)
    if json_to != STANDARD_OUTPUT:
        for line in in_lines(found):
            click.echo(line)


def _standard_air(altitude: str, before: Setup) -> Air:
    """Air of the standard atmosphere as moist as the air before."""
    from pulsewright.bench.air import REFERENCE_AIR
    from pulsewright.remedies.rejet import air_at
    from pulsewright.units import quantity

    height = quantity(altitude, "length", where="--altitude")
    if not LOWEST <= height <= HIGHEST:
        raise UsageError(
            f"--altitude {altitude} is no height of a road; {LOWEST:g} to {HIGHEST:g} m is allowed",
            hint="write it with its unit, as in --altitude '1500 m' or '5000 ft'",
        )
    return air_at(height, (before.air or REFERENCE_AIR).humidity)


def _throat(setup: Setup) -> str:
    """What the published relation is of; it asks only that fuel and air are drawn by one suction."""
    needles = any(part.needle for part in setup.carburettors)
    return "air and fuel under one suction" if needles else "the fixed venturi"


def in_lines(r: Rejet) -> list[str]:
    """The answer as text."""
    from pulsewright.bench.describe import describe_air

    lines = [
        f"From {describe_air(r.before.air)}, {r.before.fuel.kind} to {describe_air(r.after.air)}, {r.after.fuel.kind}:"
        f" air density {r.air_density_ratio - 1.0:+.1%}.",
        f"Area of all jets: {r.published - 1.0:+.1%} by the published relation of {_throat(r.before)},"
        f" {r.model - 1.0:+.1%} by the model ({r.runs} runs).",
    ]
    for path, bores in r.bores().items():
        now, published, model = (1e3 * bores[way] for way in ("now", "published", "model"))
        lines.append(f"  {path}: {now:.2f} mm now; {published:.3f} mm published, {model:.3f} mm by the model")
    lines.append("   rpm   lambda before   jets kept   jets of the model")
    for rpm, before, kept, after in zip(r.rpm, r.lambda_before, r.lambda_kept, r.lambda_after, strict=True):
        lines.append(f"{rpm:6.0f}   {before:13.3f}   {kept:9.3f}   {after:17.3f}")
    lines += [f"CAUTION: {text}" for text in r.cautions()]
    return [*lines, STAMPED]
