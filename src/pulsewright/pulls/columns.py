"""Columns of one file on their way to a meaning."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pulsewright.pulls.channel_units import Unit
from pulsewright.pulls.channel_words import sensor_of
from pulsewright.pulls.pull import ChannelDecision, Question


@dataclass(slots=True, kw_only=True)
class Column:
    """One column on its way to a meaning."""

    index: int
    heading: str
    quantity: str | None
    unit: Unit | None
    values: np.ndarray
    confidence: float
    reason: str
    overruled: bool = False
    confirmed: bool = False  # the user named the unit
    sensor: str = ""  # of lambda: the cylinder's number, "collector", ...; "": not said

    @property
    def si(self) -> np.ndarray:
        """Values in SI (rpm for rotation)."""
        if self.unit is None:
            return self.values
        return self.values * self.unit.factor + self.unit.offset

    def decision(self) -> ChannelDecision:
        """The record of what was decided."""
        return ChannelDecision(
            quantity=self.quantity or "unused",
            column=self.index + 1,
            heading=self.heading,
            unit=self.unit.name if self.unit else "",
            reason=self.reason,
            confidence=round(self.confidence, 2),
            overruled=self.overruled,
            sensor=self.sensor,
        )


@dataclass(slots=True, kw_only=True)
class Naming:
    """All columns with their meanings, and the doubts that remain."""

    columns: list[Column]
    questions: list[Question] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def of(self, quantity: str) -> list[Column]:
        """Columns of this quantity, in file order."""
        return [column for column in self.columns if column.quantity == quantity]

    def named(self, channel: str) -> list[Column]:
        """Columns of a channel as a person names it: "lambda" are all of lambda, "lambda:2" is one."""
        quantity, sensor = sensor_of(channel)
        return [column for column in self.of(quantity) if sensor in ("", column.sensor)]

    def one(self, quantity: str) -> Column | None:
        """The column of this quantity, or None."""
        return next(iter(self.of(quantity)), None)


def overrule(column: Column, unit: Unit, reason: str, confidence: float = 0.8) -> None:
    """Give a column another unit than its heading says, because the numbers do."""
    said = f"heading says {column.unit.name}, " if column.unit else ""
    column.overruled = column.unit is not None and column.unit.name != unit.name
    column.unit, column.confidence = unit, confidence
    column.reason = f"{said}{reason}"
