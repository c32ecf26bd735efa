"""What the echo does at this speed, in one plain sentence that claims no more than the numbers show."""

from __future__ import annotations

from dataclasses import dataclass

from pulsewright.simulate.echo_field import EchoField
from pulsewright.simulate.outcome import CONVERGED

WORTH_SAYING = 0.005  # of the trapped mass; less backflow is not mentioned
THIN_SPACE = "\u202f"


@dataclass(frozen=True, slots=True)
class PastValves:
    """Gas past the valves while the echo stands there, as fractions of the mass trapped in the cylinder."""

    exhaust_in: float  # out of the pipe into the cylinder
    exhaust_out: float
    intake_out: float  # out of the cylinder into the intake
    intake_in: float


def echo_sentence(field: EchoField, trip_deg: float | None, flow: PastValves, outcome: str) -> str:
    """One sentence; a second, short one where the engine does not run steadily at this speed."""
    rpm = f"{field.rpm:,.0f}".replace(",", THIN_SPACE) + f"{THIN_SPACE}rpm"
    said = f"At {rpm} {_trip(field, trip_deg)}{_arrival(field, trip_deg)}{_effect(field, flow)}."
    if outcome != CONVERGED:
        said += " The engine does not run steadily here; this is one cycle of many."
    return said


def _trip(field: EchoField, trip_deg: float | None) -> str:
    if trip_deg is None:
        return ""
    time = f"{trip_deg / field.degrees_per_millisecond:.1f}{THIN_SPACE}ms"
    return f"a pulse takes {time} down the pipe and back; "


def _arrival(field: EchoField, trip_deg: float | None) -> str:
    if field.echo_arrival_deg is None:
        return "no clear echo stands at the exhaust valve when the intake opens"
    whose = "an echo" if trip_deg is None else "its echo"
    when = f"{field.echo_arrival_deg:.0f}°, {_valves(field)}"
    return f"{whose} stands at the exhaust valve as {field.echo_sign} at {when}"


def _valves(field: EchoField) -> str:
    at, both = field.echo_arrival_deg, field.overlap
    if at is not None and both is not None and both[0] <= at <= both[1]:
        return "while both valves are open"
    if at is not None and at <= field.exhaust_window[1]:
        return "just before the exhaust valve closes"
    return "just after the exhaust valve has closed"


def _effect(field: EchoField, flow: PastValves) -> str:
    """What flows while both valves are open, where there is an echo to blame or to thank for it."""
    if field.echo_arrival_deg is None or field.overlap is None:
        return ""
    if field.echo_sign == "pressure":
        return _harm(flow)
    return _help(flow)


def _harm(flow: PastValves) -> str:
    from_pipe = flow.exhaust_in > max(WORTH_SAYING, flow.exhaust_out)
    to_intake = flow.intake_out > WORTH_SAYING
    if from_pipe and to_intake:
        return ", and pushes burned gas back into the cylinder and on into the intake"
    if from_pipe:
        return ", and pushes burned gas back into the cylinder"
    if flow.intake_out > max(WORTH_SAYING, flow.intake_in):
        return ", and drives burned gas from the cylinder out into the intake"
    if flow.exhaust_in > WORTH_SAYING or to_intake:
        return ", and holds burned gas in the cylinder"
    return ", but hardly any gas flows back"


def _help(flow: PastValves) -> str:
    if flow.exhaust_out > flow.exhaust_in + WORTH_SAYING and flow.intake_in > flow.intake_out + WORTH_SAYING:
        return ", and helps to draw burned gas out and fresh charge in"
    if flow.exhaust_out > flow.exhaust_in + WORTH_SAYING:
        return ", and helps to draw burned gas out"
    return ""
