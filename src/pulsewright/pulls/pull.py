"""A pull: one run of the engine over its speed range, in SI, with every decision that made it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pulsewright.pulls.recipe import Recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelDecision:
    """What a column was taken for, and why."""

    quantity: str  # "engine_speed", "torque", ... or "unused"
    column: int  # counting from 1
    heading: str
    unit: str
    reason: str
    confidence: float  # 0..1
    overruled: bool = False  # the numbers contradicted the name or unit
    sensor: str = ""  # of lambda: the cylinder's number, "collector", ...; "": not said


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A doubt that the user should settle; the pull is usable with the stated reading meanwhile."""

    about: str
    text: str
    taken: str  # what was assumed meanwhile


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pull:
    """One pull in SI. All arrays have one entry a sample, in the order of the file."""

    file: Path
    setup: str = ""
    kind: str = "sweep"  # "sweep" or "steps"
    torque_at: str = "engine"  # "engine" or "wheel"
    engine_speed: np.ndarray  # [rpm]
    torque: np.ndarray  # [N m]
    power: np.ndarray  # [W]
    power_sd: np.ndarray | None = None  # [W] standard deviation where power comes from a roller's speed
    time: np.ndarray | None = None  # [s]
    roller_speed: np.ndarray | None = None  # [m/s] at the roller's surface, or [rpm]: only its ratio is used
    lambdas: dict[str, np.ndarray] = field(default_factory=dict)  # sensor name -> [-]; NaN at the sensor's limit
    temperatures: dict[str, np.ndarray] = field(default_factory=dict)  # "head", "air", ... -> [K]
    air_pressure: np.ndarray | None = None  # [Pa] barometric
    humidity: np.ndarray | None = None  # [-] relative, 0..1
    usable: np.ndarray  # (n_sample,) bool: outside the start transient, engine speed trusted
    faulty: np.ndarray | None = None  # (n_sample,) bool: those samples; None: none
    pickup_faults: int = 0  # samples whose engine speed was doubled, halved or dropped
    starts_at: float = 0.0  # [rpm] first engine speed after the start transient
    channels: tuple[ChannelDecision, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()
    number: int | None = None  # which pull of a file that holds several, counting from 1
    recipe: Recipe = field(default_factory=Recipe)  # every step from the raw bytes to here
    encoding: str = "utf-8"
    separator: str = ","
    decimal: str = "."

    @property
    def mixture(self) -> np.ndarray | None:
        """Lambda of the engine: the mean over the cylinders that have a sensor, else over the sensors. [-]

        A sensor behind the join, beside those of the cylinders, would count them twice.
        """
        if not self.lambdas:
            return None
        return np.mean(np.vstack([self.lambdas[sensor] for sensor in self._averaged]), axis=0)

    @property
    def _averaged(self) -> list[str]:
        return self._cylinders or list(self.lambdas)

    @property
    def _cylinders(self) -> list[str]:
        said = {c.sensor for c in self.channels if c.quantity == "lambda"}
        return [sensor for sensor in self.lambdas if sensor.isdigit() and sensor in said]

    @property
    def mixture_is(self) -> str:
        """What `mixture` is: of one cylinder, a mean of cylinders, or of gas that the pipe has mixed."""
        averaged, cylinders = self._averaged, self._cylinders
        if not averaged:
            return "no lambda"
        if cylinders:
            return f"lambda of cylinder {averaged[0]}" if len(averaged) == 1 else (
                f"mean of the lambda of cylinders {', '.join(averaged)}"
            )  # fmt: skip
        said = [c.sensor for c in self.channels if c.quantity == "lambda" and c.sensor]
        if len(averaged) == 1:
            return f"lambda at '{said[0]}', averaged by the pipe" if said else "lambda, place of the sensor not said"
        return f"mean of {len(averaged)} lambda sensors" + ("" if said else ", places not said")
