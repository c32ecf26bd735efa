"""Pressure along one exhaust route over one engine cycle: what the echo picture is drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Window = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlinePart:
    """One stretch of the route as a person would see it cut open along its axis.

    Stretches ("port", "pipe", "muffler", ...) follow each other from the valve outwards. What sits inside a
    stretch (bolt, plate, disc, butterfly, insert) or marks a place (join, crossover, end) comes as a part of
    its own, with `start == end` unless it has a length. `bore_start` and `bore_end` mean

    - port, pipe: bore at the two ends (a cone where they differ);
    - muffler: bore of the body, bore of the core;
    - insert: bore of the tube around it, bore of the insert;
    - cross-bolt, plate, disc, valve: bore of the tube around it, width blocked across the tube;
    - join, crossover: bore of this pipe, bore of the other pipe;
    - end: bore at the mouth, twice; `label` names the kind of end ("open", "flanged", ...).
    """

    kind: str  # "port", or the sheet's word: "pipe", "muffler", "cross-bolt", "plate", "disc", "insert", "end" ...
    start: float  # [m] from the valve
    end: float  # [m] from the valve
    bore_start: float  # [m]
    bore_end: float  # [m]
    label: str = ""  # what to write beside it; may be empty


@dataclass(frozen=True, slots=True, kw_only=True)
class EchoField:
    """Gas pressure over crank angle and place in one exhaust route, at one engine speed.

    Crank angles run from 0 to 720 degrees, counted from the cylinder's own firing top dead centre, and grow
    from one column to the next. Places are counted from the valve along the centre line.
    `forward` and `returning` are the parts of the wave that run away from the valve and back to it, as
    pressure above or below the surrounding air; to first order they add up to `pressure - ambient`.
    """

    rpm: float  # [1/min]
    cylinder: int  # counting from 1
    crank_deg: Floats  # (n_angle,) [deg]
    place: Floats  # (n_place,) [m] from the valve, rising
    pressure: Floats  # (n_place, n_angle) [Pa] absolute
    forward: Floats  # (n_place, n_angle) [Pa] gauge, running away from the valve
    returning: Floats  # (n_place, n_angle) [Pa] gauge, running back to the valve
    ambient: float  # [Pa]
    intake_window: Window  # [deg] intake valve opens, closes
    exhaust_window: Window  # [deg] exhaust valve opens, closes
    lift_intake: Floats  # (n_angle,) [m]
    lift_exhaust: Floats  # (n_angle,) [m]
    outline: tuple[OutlinePart, ...]
    echo_arrival_deg: float | None  # [deg] when the returning blow-down echo is strongest at the valve
    echo_pressure: float  # [Pa] gauge, the returning wave at the valve at that moment
    echo_sign: Literal["pressure", "suction"]
    sentence: str  # the picture in one plain sentence

    def __post_init__(self) -> None:
        shape = (self.place.size, self.crank_deg.size)
        for name in ("pressure", "forward", "returning"):
            if getattr(self, name).shape != shape:
                raise ValueError(f"{name} has shape {getattr(self, name).shape}, place and crank_deg ask for {shape}")
        for name in ("lift_intake", "lift_exhaust"):
            if getattr(self, name).shape != self.crank_deg.shape:
                raise ValueError(f"{name} has shape {getattr(self, name).shape}, not {self.crank_deg.shape}")

    @property
    def overlap(self) -> Window | None:
        """The angles between which both valves stand open, or None where they never do. [deg]"""
        opens = max(self.intake_window[0], self.exhaust_window[0])
        closes = min(self.intake_window[1], self.exhaust_window[1])
        return (opens, closes) if opens < closes else None

    @property
    def degrees_per_millisecond(self) -> float:
        """How far the crank turns in a millisecond at this engine speed. [deg/ms]"""
        return self.rpm * 360.0 / 60_000.0
