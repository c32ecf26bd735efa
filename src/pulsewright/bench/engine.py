"""The engine: its cylinders, valves, ports and ignition."""

import math
from dataclasses import dataclass

from pulsewright.bench.valve import Valve


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """Passage in the cylinder head between valve and flange."""

    length: float  # [m]
    bore: float  # [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ignition:
    """Spark advance against engine speed: linear between the rows, held outside them."""

    advance: tuple[tuple[float, float], ...]  # rows (engine speed [rpm], before top dead centre [deg])


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """Four-stroke engine; every cylinder is alike."""

    cylinders: int
    bore: float  # [m]
    stroke: float  # [m]
    rod: float  # [m] centre to centre
    compression_ratio: float  # [-]
    firing: tuple[float, ...]  # [deg] in the 720 cycle at which cylinder 1, 2, ... reaches firing top dead centre
    cooling: str  # "air" or "water"
    intake_valve: Valve
    exhaust_valve: Valve
    intake_port: Port
    exhaust_port: Port

    @property
    def cylinder_volume(self) -> float:
        """Swept volume of one cylinder. [m³]"""
        return math.pi / 4.0 * self.bore**2 * self.stroke

    @property
    def displacement(self) -> float:
        """Swept volume of all cylinders. [m³]"""
        return self.cylinders * self.cylinder_volume
