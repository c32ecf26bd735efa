"""What the user may say about a file beyond what it shows."""

from __future__ import annotations

from dataclasses import dataclass, field

from pulsewright.bench.roller import RollerDyno

PETROL_AFR = 14.7  # [-] the scale most displays use whatever the fuel (common practice, no published source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Confirmations for reading a pull file; every field is optional."""

    torque_at: str = "engine"  # what torque or power refers to: "engine" or "wheel"
    stoichiometric_afr: float = PETROL_AFR  # [-] of the named fuel, to turn AFR into lambda
    fuel: str = "petrol"
    displacement: float | None = None  # [m3] of the engine, bounds the torque
    separator: str | None = None
    decimal: str | None = None
    units: dict[str, str] = field(default_factory=dict)  # quantity -> unit, as --as torque=Nm
    columns: dict[str, str] = field(default_factory=dict)  # quantity -> heading or number of the column
    roller: RollerDyno | None = None  # where the file has roller speed and neither torque nor power
    sheet: str | None = None  # of a spreadsheet
    pull: int | None = None  # which of several pulls in one file, counting from 1
