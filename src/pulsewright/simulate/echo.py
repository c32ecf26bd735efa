"""From a setup and an engine speed to the field that the echo picture is drawn from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pulsewright.bench.exhaust import End, Join
from pulsewright.bench.setup import Setup
from pulsewright.bench.valve import Valve
from pulsewright.errors import UsageError
from pulsewright.network.case import Case, build_case
from pulsewright.network.engine_parts import lift_curve
from pulsewright.network.options import AS_BUILT, NON_REFLECTING, Options
from pulsewright.physics.lift_curve import seat_timing
from pulsewright.simulate.cycle import CycleResult, run_cycle
from pulsewright.simulate.echo_arrival import echo_arrival, round_trip
from pulsewright.simulate.echo_field import EchoField, Window
from pulsewright.simulate.echo_outline import outline_of
from pulsewright.simulate.echo_sentence import PastValves, echo_sentence
from pulsewright.simulate.outcome import FAILED
from pulsewright.simulate.settle import Tolerance, settle
from pulsewright.simulate.sweep import base_pressures, set_base_pressures
from pulsewright.simulate.wave_split import split_waves

Floats = NDArray[np.float64]

PLACES = 200  # along the route


def compute_echo(
    setup: Setup,
    rpm: float,
    cylinder: int = 1,
    ends: str = AS_BUILT,
    options: Options | None = None,
    within: Tolerance | None = None,
    stopped: Callable[[], bool] | None = None,
) -> EchoField:
    """Run the engine at one speed until it repeats itself, and take the last cycle's pressures in a pipe.

    rpm : engine speed [1/min]; cylinder : whose route, from 1; ends : "as built" or "non-reflecting".
    `stopped` is asked before every cycle and ends the run with KeyboardInterrupt when it says True.

    Raises UsageError where the model has no answer at this speed.
    """
    options = replace(options or Options(), exhaust_ends=ends)
    case = build_case(setup, options, rpm)
    pressures = base_pressures(setup, [rpm], options, within=within)
    if pressures is not None:
        set_base_pressures(case, pressures[rpm])
    outcome = settle(case, rpm, within, stopped).outcome
    cycle = run_cycle(case.with_traces())
    if outcome == FAILED or cycle.failed:
        raise UsageError(f"no echo at {rpm:g} rpm: {FAILED}")
    return echo_field(case, rpm, cylinder, cycle, outcome)


def echo_field(case: Case, rpm: float, cylinder: int, cycle: CycleResult, outcome: str) -> EchoField:
    """The field of a case that has just run a traced cycle."""
    setup, ambient = case.setup, case.charge.air.pressure
    slots, at = _route(case, cylinder)
    p, u, sound, T = (_own_cycle(case, cylinder, row, slots) for row in range(4))
    gamma = sound**2 / (case.arrays["cells"][0]["R"][slots][:, None] * T)
    reference = u.mean(axis=1, keepdims=True) if _endless(case, cylinder) else 0.0
    forward, returning = split_waves(p, u, sound, gamma, ambient, reference)
    crank = np.arange(p.shape[1], dtype=float)
    end = _length(case, cylinder)
    cut_at = end if case.options.exhaust_ends == NON_REFLECTING else None
    place = np.linspace(0.0, end, PLACES)
    intake, exhaust = setup.engine.intake_valve, setup.engine.exhaust_valve
    lift_in, lift_out = _lift(intake, crank), _lift(exhaust, crank)
    arrival = echo_arrival(crank, forward[0], returning[0], lift_in, lift_out)
    strength = 0.0 if arrival is None else float(returning[0, arrival])
    field = EchoField(
        rpm=rpm,
        cylinder=cylinder,
        crank_deg=crank,
        place=place,
        pressure=_along(place, at, p),
        forward=_along(place, at, forward),
        returning=_along(place, at, returning),
        ambient=ambient,
        intake_window=_window(intake),
        exhaust_window=_window(exhaust),
        lift_intake=lift_in,
        lift_exhaust=lift_out,
        outline=outline_of(setup, cylinder, rpm, cut_at),
        echo_arrival_deg=None if arrival is None else float(crank[arrival]),
        echo_pressure=strength,
        echo_sign="pressure" if strength > 0.0 else "suction",
        sentence="",
    )
    trip = round_trip(forward[0], returning[0], 12.0 * rpm * float(np.trapezoid(1.0 / sound.mean(axis=1), at)))
    during = (lift_in > 0.0) & (lift_out > 0.0) & (np.sign(returning[0]) == np.sign(strength))
    past_valves = _past_valves(case, cylinder, cycle, during)
    return replace(field, sentence=echo_sentence(field, trip, past_valves, outcome))


def _route(case: Case, cylinder: int) -> tuple[NDArray[np.intp], Floats]:
    """Slots of a cylinder's route to the open air, and their places from the valve [m]."""
    line = case.exhaust.lines[cylinder]
    rows, begin = [(slot, place) for slot, place, _ in line.cells], line.length
    for name in _collectors(case, cylinder):
        line = case.exhaust.after[name]
        rows += [(slot, begin + place) for slot, place, _ in line.cells]
        begin += line.length
    return np.array([slot for slot, _ in rows]), np.array([place for _, place in rows])


def _length(case: Case, cylinder: int) -> float:
    lines = [case.exhaust.lines[cylinder], *(case.exhaust.after[n] for n in _collectors(case, cylinder))]
    return sum(line.length for line in lines)


def _collectors(case: Case, cylinder: int) -> list[str]:
    """Names of the collectors that a route runs through."""
    exhaust, names = case.setup.exhaust, []
    pieces = exhaust.route[cylinder]
    while isinstance(pieces[-1], Join) and pieces[-1].into in case.exhaust.after:
        names.append(pieces[-1].into)
        pieces = exhaust.after[names[-1]]
    return names


def _endless(case: Case, cylinder: int) -> bool:
    """Whether no echo comes back from the end of a route."""
    if case.options.exhaust_ends == NON_REFLECTING:
        return True
    names = _collectors(case, cylinder)
    exhaust = case.setup.exhaust
    last = (exhaust.after[names[-1]] if names else exhaust.route[cylinder])[-1]
    return isinstance(last, End) and last.kind == NON_REFLECTING


def _own_cycle(case: Case, cylinder: int, row: int, slots: NDArray[np.intp]) -> Floats:
    """A row of the traces over the cylinder's own cycle, (n_slot, 721); first and last are one moment."""
    firing = case.setup.engine.firing[cylinder - 1]
    turned = np.roll(case.arrays["traces"][row][:, slots], -round(firing), axis=0)
    return np.vstack([turned, turned[:1]]).T.copy()


def _along(place: Floats, at: Floats, values: Floats) -> Floats:
    """Values at the cells brought to even places; beyond the outermost cells they are held."""
    return np.array([np.interp(place, at, column) for column in values.T]).T


def _lift(valve: Valve, crank: Floats) -> Floats:
    """Lift over crank angle. [m]"""
    degrees, lift = lift_curve(valve)
    return np.interp(crank, degrees, lift)


def _window(valve: Valve) -> Window:
    """Where the valve leaves its seat and where it is back on it. [deg]"""
    if valve.lift_table:
        rows = [angle for angle, lift in valve.lift_table if lift > 0.0]
        return rows[0], rows[-1]
    opens, closes = seat_timing(valve.opens_deg, valve.closes_deg, valve.check_lift, valve.lift)
    return float(opens), float(closes)


def _past_valves(case: Case, cylinder: int, cycle: CycleResult, during: NDArray[np.bool_]) -> PastValves:
    """What flows past the two valves while the echo stands there and both are open, over the mass trapped."""
    slots = np.array([case.exhaust.lines[cylinder].cells[0][0], case.intake.ports[cylinder].cell])
    c = case.arrays["cells"][0]
    area = c["inverse_length"][slots] / c["inverse_volume"][slots]
    p, u, _, T = (_own_cycle(case, cylinder, row, slots) for row in range(4))
    flow = p * u / T * (area / c["R"][slots])[:, None]  # [kg/s] out at the exhaust, in at the intake valve
    seconds = 1.0 / (6.0 * float(case.arrays["run"]["rpm"][0]))  # a crank degree
    share = seconds / float(cycle.trapped[cylinder - 1])
    right = np.sum(np.maximum(flow, 0.0)[:, during], axis=1) * share
    wrong = np.sum(np.maximum(-flow, 0.0)[:, during], axis=1) * share
    return PastValves(
        exhaust_in=float(wrong[0]),
        exhaust_out=float(right[0]),
        intake_out=float(wrong[1]),
        intake_in=float(right[1]),
    )
