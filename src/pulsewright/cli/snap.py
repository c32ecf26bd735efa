"""`pulsewright snap SHEET --rpm N`: lambda after the throttle is snapped open, with and without accelerator pump."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from pulsewright.cli.json_output import STANDARD_OUTPUT, json_option, write_json
from pulsewright.cli.run_state import state_of
from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.remedies.pump_steps import PumpStep
    from pulsewright.simulate.throttle_snap import Excursion, Film, Snap, SteadyFlow

SHOWN = (0.0, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 2.9)  # [s] after the throttle begins to move
LOWEST, HIGHEST = 100.0, 20_000.0  # [rpm]
REST = (
    "A reckoning behind the model: steady running at each opening, a wall film, a pump. The film of a machine is not"
    " known; believe the direction and the rank of two pumps, not the digits (docs/explanation/limits.md)."
)


@click.command(name="snap")
@click.argument("sheet", metavar="SHEET")
@click.option("--rpm", type=float, required=True, metavar="N", help="Engine speed, which the snap leaves as it is.")
@click.option("--from", "start", default="15%", show_default=True, metavar="OPENING", help="Throttle before.")
@click.option("--to", "end", default="100%", show_default=True, metavar="OPENING", help="Throttle after.")
@click.option("--in", "within", default="0.1 s", show_default=True, metavar="TIME", help="How long the hand takes.")
@click.option(
    "--film-share", type=float, metavar="X", help="Share of the fuel that lands on the wall; three if not said."
)
@click.option("--film-time", metavar="TIME", help="Time constant of the film, with --film-share.")
@click.option(
    "--set", "changes", multiple=True, metavar="PATH=VALUE",
    help="Change the sheet first, such as carburettor.1.pump_volume='0.6 cm^3'. May be repeated.",
)  # fmt: skip
@click.option("--setup", "setup_name", metavar="NAME", help="Where SHEET is a session: which of its setups.")
@json_option
@click.pass_context
def command(
    ctx: click.Context, sheet: str, rpm: float, start: str, end: str, within: str, film_share: float | None,
    film_time: str | None, changes: tuple[str, ...], setup_name: str | None, json_to: str | None,
) -> None:  # fmt: skip
    """Lambda in the cylinders after the throttle is snapped open, with and without accelerator pump.

    SHEET is a setup sheet, or a session folder with its setups.
    """
    if not LOWEST <= rpm <= HIGHEST:
        raise UsageError(f"{rpm:g} rpm is no engine speed; {LOWEST:g} to {HIGHEST:g} is allowed", where="--rpm")
    films = _films(film_share, film_time)
    openings = _opening(start, "--from"), _opening(end, "--to")
    seconds = _time(within, "--in", 0.0, 2.0)
    from pulsewright.cli.first_start import tell_first_start
    from pulsewright.cli.sheet_argument import setup_of
    from pulsewright.records.folders import store_folder
    from pulsewright.records.shop_catalogue import shop_catalogue
    from pulsewright.remedies.pump_steps import pump_steps
    from pulsewright.simulate.throttle_snap import FORMAT, Snap, pump_of, snap_answers, steady_flow

    setup = setup_of(sheet, changes, setup_name)
    tell_first_start()
    volume, pump_time = pump_of(setup)
    snap = Snap(start=openings[0], end=openings[1], opening_time=seconds, pump_volume=volume, pump_time=pump_time)
    flow = steady_flow(setup, rpm, snap.start, snap.end)
    found = snap_answers(flow, snap, films)
    steps = pump_steps(setup, shop_catalogue(store_folder(state_of(ctx).store)), flow, snap, found)
    if json_to:
        answer = {"format": FORMAT, "sheet": sheet, "name": setup.name, "changes": list(changes), "rpm": rpm}
        write_json(answer | _plain(snap, flow, found) | {"pump_changes": [s.as_json() for s in steps]}, json_to)
    if json_to != STANDARD_OUTPUT:
        click.echo("\n".join(in_lines(setup.name, rpm, snap, flow, found, steps)))


def _films(share: float | None, time: str | None) -> list[Film]:
    from pulsewright.simulate.throttle_snap import Film

    if share is None and time is None:
        return []
    if share is None or time is None:
        raise UsageError("--film-share and --film-time belong together", hint="--film-share 0.3 --film-time '0.4 s'")
    if not 0.0 <= share <= 0.95:
        raise UsageError(f"a share of {share:g} on the wall; 0 to 0.95 is allowed", where="--film-share")
    return [Film(share=share, time_constant=_time(time, "--film-time", 0.01, 20.0))]


def _opening(text: str, where: str) -> float:
    from pulsewright.units import quantity

    opening = quantity(text, "fraction", where=where)
    if not 0.01 <= opening <= 1.0:
        raise UsageError(f"'{text}' is no throttle opening; 1 to 100 % is allowed", where=where, hint="write 15%")
    return opening


def _time(text: str, where: str, least: float, most: float) -> float:
    from pulsewright.units import quantity

    seconds = quantity(text, "time", where=where)
    if not least <= seconds <= most:
        raise UsageError(f"{where} {text} is out of range; {least:g} to {most:g} s is allowed", hint="write '0.1 s'")
    return seconds


def _plain(snap: Snap, flow: SteadyFlow, found: list[Excursion]) -> dict[str, Any]:
    """The answer as plain data."""
    return {
        "from": snap.start, "to": snap.end, "opening_time_s": snap.opening_time,
        "pump_cm3": 1e6 * snap.pump_volume, "pump_time_s": snap.pump_time,
        "steady": {
            "throttle": flow.throttle, "air_kg_s": flow.air, "fuel_kg_s": flow.fuel,
            "lambda": flow.air / (flow.fuel * flow.air_fuel_ratio), "outcome": flow.outcome,
        },
        "films": [each.as_json() for each in found],
    }  # fmt: skip


def in_lines(
    name: str, rpm: float, snap: Snap, flow: SteadyFlow, found: list[Excursion], steps: Sequence[PumpStep] = ()
) -> list[str]:
    """The answer as text."""
    from pulsewright.simulate.throttle_snap import LEAN_MISFIRE, RICH_MISFIRE, all_arrived

    steady = flow.air / (flow.fuel * flow.air_fuel_ratio)
    first, last = (float(steady[n]) for n in ((0, -1) if snap.end >= snap.start else (-1, 0)))
    pump = f"pump {1e6 * snap.pump_volume:.2f} cm³ on the whole way" if snap.pump_volume else "no pump on the sheet"
    lines = [
        f"{name}: throttle {snap.start:.0%} to {snap.end:.0%} in {snap.opening_time:g} s at {rpm:.0f} rpm; {pump}",
        f"steady lambda {first:.2f} before, {last:.2f} after",
    ]
    for each in found:
        lines += ["", _film_line(each), *_rows(each, snap)]
    lines += ["", f"An engine stumbles above lambda {LEAN_MISFIRE} or below {RICH_MISFIRE} (common practice)."]
    if not snap.pump_volume and snap.end > snap.start:
        lines.append("Try a pump: --set 'carburettor.1.pump_volume=0.6 cm^3'")
    lines += _step_lines(steps)
    if not all_arrived(flow):
        lines.append("CAUTION: at some openings the engine does not run steadily in the model; see --json")
    return [*lines, REST]


def _film_line(each: Excursion) -> str:
    from pulsewright.simulate.throttle_snap import CentralFilm

    if not isinstance(each.film, CentralFilm):
        return f"film: {each.share[1]:.0%} of the fuel, {each.time_constant[1]:g} s"
    before, after = (f"{x:.0%}, {t:.2f} s" for x, t in zip(each.share, each.time_constant, strict=True))
    return f"film by the manifold's pressure, fit to an engine with one injector at the throttle: {before} to {after}"


def _step_lines(steps: Sequence[PumpStep]) -> list[str]:
    """What the workshop's catalogue can do about the pump."""
    if not steps:
        return []
    lines = ["", "What the catalogue can change, with the stumble by each film in turn:"]
    for step in steps:
        times = ", ".join(f"{seconds:.2f} s" for seconds in step.stumbles)
        back = "can be put back" if step.entry.reversible else "cannot be put back"
        work = f"{step.entry.minutes:g} min, parts {step.entry.cost:g} {step.money}, {back}"
        lines.append(f"  {step.words}: {times} ({work})")
    return [*lines, f"  Caution: {steps[0].entry.note}."] if steps[0].entry.note else lines


def _rows(each: Excursion, snap: Snap) -> list[str]:
    import numpy as np

    def row(label: str, curve: np.ndarray) -> str:
        stumbles = each.stumbles(curve)
        end = f"stumbles for {stumbles:.2f} s" if stumbles else "no stumble"
        return f"  {label:13}" + "".join(f"{np.interp(t, each.time, curve):7.2f}" for t in SHOWN) + f"   {end}"

    lines = ["  seconds      " + "".join(f"{t:7.2f}" for t in SHOWN), row("without pump", each.without_pump)]
    if snap.pump_volume:
        lines.append(row("with pump", each.mixture))
    if math.isfinite(each.taken_up):
        kept = f"  the film takes up {1e6 * each.taken_up:.2f} cm³"
        lines.append(kept + (f", the pump gives {1e6 * each.pumped:.2f} cm³" if snap.pump_volume else ""))
    return lines
