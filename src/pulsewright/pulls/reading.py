"""What the user may say about a file beyond what it shows."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from pulsewright.bench.roller import RollerDyno
from pulsewright.errors import InputError
from pulsewright.pulls.decoding import read_bytes

PETROL_AFR = 14.7  # [-] the scale most displays use whatever the fuel (common practice, no published source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Confirmations for reading a pull file; every field is optional."""

    torque_at: str = "engine"  # what torque or power refers to: "engine" or "wheel"
    stoichiometric_afr: float = PETROL_AFR  # [-] of the named fuel, to turn AFR into lambda
    fuel: str = ""  # its name; "": not said, so that an AFR is read on the petrol scale and the fuel asked for
    displacement: float | None = None  # [m3] of the engine, bounds the torque
    separator: str | None = None
    decimal: str | None = None
    units: dict[str, str] = field(default_factory=dict)  # quantity -> unit, as --as torque=Nm
    columns: dict[str, str] = field(default_factory=dict)  # quantity -> heading or number of the column
    roller: RollerDyno | None = None  # where the file has roller speed and neither torque nor power
    sheet: str | None = None  # of a spreadsheet
    pull: int | None = None  # which of several pulls in one file, counting from 1


def as_said(reading: Reading) -> dict[str, Any]:
    """What the person said, in plain values; nothing of what was not said."""
    usual = Reading()
    said = {
        each.name: value
        for each in fields(reading)
        if (value := getattr(reading, each.name)) != getattr(usual, each.name)
    }
    if reading.roller is not None:
        said["roller"] = {**asdict(reading.roller), "losses": [list(row) for row in reading.roller.losses]}
        if reading.roller.coast_down is not None:
            data = read_bytes(reading.roller.coast_down)
            said["roller"]["coast_down"] = str(reading.roller.coast_down)
            said["roller"]["coast_down_sha256"] = hashlib.sha256(data).hexdigest()
    return said


def from_said(said: dict[str, Any]) -> Reading:
    """The reading again. Raises TypeError, KeyError or ValueError where it holds what is not known here, InputError
    where the coast-down file is no longer the one that was used."""
    said = dict(said)
    if "roller" in said:
        roller = dict(said["roller"])
        coast, print_ = roller.pop("coast_down", None), roller.pop("coast_down_sha256", None)
        if coast and hashlib.sha256(read_bytes(Path(coast))).hexdigest() != print_:
            raise InputError(
                "the coast-down file is not the one that was used: its fingerprint differs", where=coast,
                hint="take the raw file again, or read the pull anew",
            )  # fmt: skip
        losses = tuple((float(speed), float(power)) for speed, power in roller.pop("losses", ()))
        said["roller"] = RollerDyno(coast_down=Path(coast) if coast else None, losses=losses, **roller)
    return Reading(**said)
