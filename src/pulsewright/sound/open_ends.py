"""The flow at every open end of a machine over one cycle that repeats itself."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pulsewright.errors import UsageError
from pulsewright.kernel.layout import FREE_FIELD, TRACE_STEPS
from pulsewright.network.case import Case
from pulsewright.simulate.cycle import run_cycle
from pulsewright.simulate.outcome import FAILED
from pulsewright.sound.band_limit import band_limit

Floats = npt.NDArray[np.float64]

EXHAUST, INTAKE = "exhaust", "intake"
REPEATS_WITHIN = 1e-3  # of the root mean square of the flow
MOST_CYCLES = 8
ROOM_FOR_FASTER = 1.2  # the longest even step over the mean one
JUST_OVER = 1.0 + 1e-12  # so that rounding never leaves a step short of its crank degree


@dataclass(frozen=True, slots=True)
class OpenEnd:
    """One end in the open air."""

    side: str  # "exhaust" or "intake"
    number: int  # counting from 0 on its side
    flow: Floats  # (720,) [kg/s] of outside air pushed away, at every whole crank degree


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What comes out of a machine at one speed, and how well it is known."""

    rpm: float
    ends: tuple[OpenEnd, ...]
    density: float  # [kg/m³] of the outside air
    sound_speed: float  # [m/s] in it
    highest: float  # [Hz] up to which the model has anything to say
    repeats: float  # how far the last two cycles differ, of the root mean square of the flow


def record(case: Case, rpm: float) -> Recording:
    """Run a settled case on, in even steps that meet every crank degree, until its flow repeats itself.

    The case itself is left as it is. Ends that send no echo back go on for ever and are heard by nobody.
    Raises UsageError where the model loses the gas.
    """
    case = case.copy().with_traces()
    before = _even_cycle(case, rpm)
    for _ in range(MOST_CYCLES):
        flows = _even_cycle(case, rpm)
        apart = float(np.sqrt(np.mean((flows - before) ** 2) / max(float(np.mean(flows**2)), 1e-30)))
        if apart < REPEATS_WITHIN:
            break
        before = flows
    closed = before - np.outer(flows[:, 0] - before[:, 0], np.arange(TRACE_STEPS) / TRACE_STEPS)
    names = [(side, number) for side in (EXHAUST, INTAKE) for number in range(len(_joints(case, side)))]
    return Recording(
        rpm=rpm,
        ends=tuple(OpenEnd(*name, flow) for name, flow in zip(names, closed, strict=True)),
        density=_density(case),
        sound_speed=math.sqrt(1.4 * _gas_constant(case) * case.charge.air.temperature),
        highest=band_limit(case, rpm),
        repeats=apart,
    )


def _even_cycle(case: Case, rpm: float) -> Floats:
    """One cycle in steps of one length, and the outside air that every end pushes away. (ends, 720) [kg/s]"""
    run = case.arrays["run"]
    a_degree = math.ceil(ROOM_FOR_FASTER * float(run["steps"][0]) / TRACE_STEPS)
    start = case.copy().arrays
    while True:
        run["longest"] = JUST_OVER / (a_degree * 6.0 * rpm)
        if run_cycle(case).failed:
            raise UsageError(f"no sound at {rpm:g} rpm: {FAILED}")
        if int(run["steps"][0]) == a_degree * TRACE_STEPS:
            break
        for name, rows in start.items():  # a wave was faster than these steps
            case.arrays[name][...] = rows
        a_degree += 1
    joints = _joints(case, EXHAUST) + _joints(case, INTAKE)
    return np.array([pushed_away(case, joint) for joint in joints])


def _joints(case: Case, side: str) -> list[int]:
    """The open ends of a side as rows of the joints."""
    rows = case.exhaust.mouth_joints if side == EXHAUST else case.intake.mouth_joints
    return [k for k in rows if case.arrays["joints"]["kind"][k] != FREE_FIELD]


def pushed_away(case: Case, joint: int) -> Floats:
    """Mass flow of the outside air that makes room for what leaves an end, over the traced cycle. (720,) [kg/s]

    The room is what the gas of the end takes up once it has come to the pressure outside. Room does not jump where
    hot gas and drawn-in air meet, as their mass flow does; it is continued in a straight line from the middles of the
    last two cells to the end itself.
    """
    c, j = case.arrays["cells"][0], case.arrays["joints"][joint]
    last, sign = int(j["a_cell"]), int(j["a_sign"])
    slots = [last, last - sign]
    p, u, sound, T = (case.arrays["traces"][row][:, slots] for row in range(4))
    gamma = sound**2 / (c["R"][slots] * T)
    area = c["inverse_length"][slots] / c["inverse_volume"][slots]
    room = sign * u * area * (p / case.charge.air.pressure) ** (1.0 / gamma)
    return _density(case) * at_the_end(room, 1.0 / c["inverse_length"][slots])


def at_the_end(values: Floats, lengths: Floats) -> Floats:
    """Values in the last cell and the one before it, (n, 2), continued to the face behind the last; lengths in [m]."""
    beyond = lengths[0] / (lengths[0] + lengths[1])
    return values[:, 0] + beyond * (values[:, 0] - values[:, 1])


def _gas_constant(case: Case) -> float:
    return float(case.charge.gas.gas_constant[0])


def _density(case: Case) -> float:
    """Density of the outside air. [kg/m³]"""
    air = case.charge.air
    return air.pressure / (_gas_constant(case) * air.temperature)
