"""A whole machine on the bench: everything a prediction needs, in SI units."""

from dataclasses import dataclass

from pulsewright.bench.air import Air
from pulsewright.bench.assumption import Assumption
from pulsewright.bench.carburettor import Carburettor
from pulsewright.bench.engine import Engine, Ignition
from pulsewright.bench.exhaust import Exhaust
from pulsewright.bench.fuel import Fuel
from pulsewright.bench.intake import Intake


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One setup sheet, read, checked and filled in."""

    name: str
    engine: Engine
    ignition: Ignition
    fuel: Fuel
    carburettors: tuple[Carburettor, ...]
    intake: Intake
    exhaust: Exhaust
    air: Air | None  # None: reference air
    assumptions: tuple[Assumption, ...]

    def carburettor_of(self, cylinder: int) -> int:
        """Index (from 0) of the carburettor in front of a cylinder (number from 1)."""
        return next(index for index, each in enumerate(self.carburettors) if cylinder in each.feeds)
