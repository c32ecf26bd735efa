"""`pulsewright estimate`: numbers of a sheet that nobody has written down, from what can be measured."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import json_option, write_json
from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.new.estimate import Estimate

VALVES = ["intake", "exhaust"]
FLUIDS = ["petrol", "E5", "E10", "E85", "ethanol", "water"]
JETS = ["main_jet", "intermediate_jet"]


@click.group()
def command() -> None:
    """Estimate what is not written down: a jet's bore from its flow, cam timing from a lift table, a port from
    the fluid that fills it, a valve's flow from flow-bench numbers.

    The answer can be pasted into a setup sheet as it is printed: one line that says it with its band, the reason,
    and the keys under their heading.
    """


def _quantity(kind: str) -> Callable[..., Any]:
    """A click callback that reads a quantity with its unit."""

    def read(_context: click.Context, parameter: click.Parameter, value: Any) -> Any:
        from pulsewright.units import quantity

        if value is None or value == ():
            return value
        where = parameter.opts[0]
        if isinstance(value, tuple):
            return tuple(quantity(each, kind, where=where) for each in value)
        return quantity(value, kind, where=where)

    return read


def _say(estimate: Estimate, json_to: str | None) -> None:
    if json_to:
        write_json(estimate.as_json(), json_to)
    else:
        click.echo(estimate.toml)


@command.command()
@click.option("--flow", required=True, metavar="FLOW", callback=_quantity("volume_flow"), help="Such as '250 cc/min'.")
@click.option("--head", metavar="HEIGHT", callback=_quantity("length"), help="Liquid above the jet, such as '500 mm'.")
@click.option("--pressure", metavar="PRESSURE", callback=_quantity("pressure"), help="In place of --head: '5 kPa'.")
@click.option("--fluid", type=click.Choice(FLUIDS), default="petrol", show_default=True, help="What ran through it.")
@click.option("--cd", type=click.FloatRange(0.4, 1.0), metavar="NUMBER", help="Discharge coefficient, where known.")
@click.option("--jet", type=click.Choice(JETS), default=JETS[0], show_default=True, help="Which jet.")
@click.option("--carburettor", type=click.IntRange(1, 6), default=1, show_default=True, help="Of which carburettor.")
@json_option
def jet_bore(json_to: str | None, **said: Any) -> None:
    """Bore of a jet from the flow of liquid under a head or a pressure."""
    from pulsewright.new.jet_from_flow import jet_from_flow

    _say(jet_from_flow(said.pop("flow"), **said), json_to)


@command.command()
@click.option(
    "--lift-table",
    required=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Text with an angle and a lift in each line.",
)
@click.option("--valve", type=click.Choice(VALVES), required=True, help="Which valve it is.")
@click.option("--check-lift", default="1 mm", show_default=True, metavar="LIFT", callback=_quantity("length"),
              help="Lift at which the timing is to hold.")  # fmt: skip
@click.option("--lift-unit", metavar="UNIT", help="Unit of the lifts where the heading does not say it.")
@click.option("--zero", type=click.Choice(["firing", "overlap"]), default="firing", show_default=True,
              help="Top dead centre that the angles count from.")  # fmt: skip
@click.option("--cam-degrees", is_flag=True, help="The angles are of the camshaft, not of the crank.")
@json_option
def cam_timing(
    lift_table: Path, valve: str, check_lift: float, lift_unit: str | None, zero: str, cam_degrees: bool,
    json_to: str | None,
) -> None:  # fmt: skip
    """Opening, closing and lift of a valve from a lift table measured with dial gauge and degree wheel."""
    from pulsewright.bench.toml_file import read_text
    from pulsewright.new.cam_from_lift_table import cam_from_lift_table, read_lift_table

    text = read_text(lift_table)
    rows = read_lift_table(text, where=str(lift_table), lift_unit=lift_unit, zero=zero, cam_degrees=cam_degrees)
    _say(cam_from_lift_table(rows, valve=valve, check_lift=check_lift), json_to)


@command.command()
@click.option(
    "--fluid", "volume", required=True, metavar="VOLUME", callback=_quantity("volume"), help="Such as '95 ml'."
)
@click.option("--bore", metavar="LENGTH", callback=_quantity("length"), help="Bore at the flange, such as '40 mm'.")
@click.option("--length", metavar="LENGTH", callback=_quantity("length"), help="In place of --bore: along its middle.")
@click.option("--port", type=click.Choice(VALVES), required=True, help="Which port it is.")
@json_option
def port_volume(volume: float, json_to: str | None, **said: Any) -> None:
    """Length of a port from the fluid that fills it and its bore, or its bore from its length."""
    from pulsewright.new.port_from_fluid import port_from_fluid

    _say(port_from_fluid(volume, **said), json_to)


@command.command()
@click.option("--flow", "flows", multiple=True, required=True, metavar="FLOW", help="Such as '120 cfm' or '68 g/s'.")
@click.option("--lift", "lifts", multiple=True, required=True, metavar="LIFT", callback=_quantity("length"),
              help="Lift of each --flow, in the same order.")  # fmt: skip
@click.option("--pressure-drop", "drop", required=True, metavar="PRESSURE", callback=_quantity("pressure"),
              help="Across the valve, such as '28 inH2O': without it a flow says nothing.")  # fmt: skip
@click.option("--diameter", required=True, metavar="LENGTH", callback=_quantity("length"), help="Of the valve's head.")
@click.option("--count", type=click.IntRange(1, 4), default=1, show_default=True, help="Valves open together.")
@click.option("--port-bore", metavar="LENGTH", callback=_quantity("length"), help="Bore of the port.")
@click.option("--valve", type=click.Choice(VALVES), required=True, help="Which valve it is.")
@click.option("--air-pressure", metavar="PRESSURE", callback=_quantity("pressure"), default="101.325 kPa",
              show_default=True, help="Of the air where it enters.")  # fmt: skip
@click.option("--air-temperature", metavar="TEMPERATURE", callback=_quantity("temperature"), default="20 degC",
              show_default=True, help="Of the air where it enters.")  # fmt: skip
@json_option
def valve_cd(
    flows: tuple[str, ...], lifts: tuple[float, ...], air_pressure: float, air_temperature: float,
    json_to: str | None, **said: Any,
) -> None:  # fmt: skip
    """Discharge coefficient of a valve from flow-bench numbers, and what it flows against a usual valve.

    A volume flow is taken to be that of the air where it enters. Give --flow and --lift again for every reading.
    """
    from pulsewright.new.valve_from_flow_bench import Point, valve_from_flow_bench

    if len(flows) != len(lifts):
        raise UsageError(
            f"{len(flows)} --flow and {len(lifts)} --lift do not make pairs", hint="give one lift for each flow"
        )
    air = (air_pressure, air_temperature)
    points = [Point(lift, _mass_flow(flow, air)) for lift, flow in zip(lifts, flows, strict=True)]
    _say(valve_from_flow_bench(points, air=air, **said), json_to)


def _mass_flow(text: str, air: tuple[float, float]) -> float:
    """[kg/s] of a mass flow, or of a volume flow of the air that enters."""
    from pulsewright.errors import InputError
    from pulsewright.new.valve_from_flow_bench import GAS_CONSTANT
    from pulsewright.units import quantity

    try:
        return quantity(text, "mass_flow")
    except InputError:
        return quantity(text, "volume_flow", where="--flow") * air[0] / (GAS_CONSTANT * air[1])
