"""The session file, format 1, as data: every key and what may stand there."""

from dataclasses import dataclass
from typing import Any

from pulsewright.bench.keys import Flag, Many, Named, Quantity, Row, Table, Tables, Text, Whole, Word
from pulsewright.bench.place import Place
from pulsewright.bench.schema import AIR

SESSION_FORMAT = "pulsewright session 1"
UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class KnownOr:
    """A quantity, or the word "unknown"."""

    quantity: Quantity

    def read(self, value: Any, place: Place) -> float | None:
        """The quantity; None where it is not known."""
        return None if value == UNKNOWN else self.quantity.read(value, place)


@dataclass(frozen=True, slots=True)
class ChangePair:
    """A path in the sheet and its new value; both are checked when the change is made."""

    def read(self, value: Any, place: Place) -> tuple[str, Any]:
        """The pair as it is written."""
        pair = isinstance(value, list) and len(value) == 2
        if not pair or not isinstance(value[0], str) or not value[0].strip():
            raise place.error(
                f"{place.key} is no change; allowed: a list of a path and a new value",
                'write ["carburettor.1.main_jet", "1.70 mm"]',
            )
        return value[0], value[1]


_SPEED = Quantity("speed_rpm", 200.0, 20000.0)
_LAMBDA = Quantity("ratio", 0.5, 2.0)

_LOSS = '["60 km/h", "0.4 kW"]'
LOGGER = Table(
    {
        "torque": Word(("engine", "wheel")),
        "lambda_delay": KnownOr(Quantity("time", 0.0, 10.0)),
        "separator": Word((",", ";", "tab")),
        "decimal": Word((".", ",")),
        "units": Named(Text(50)),
        "columns": Named(Text(200)),
        "mapping": Text(500),
        "roller_inertia": Quantity("inertia", 0.01, 2000.0),
        "roller_inertia_tolerance": Quantity("fraction", 0.0, 0.3),
        "roller_radius": Quantity("length", 0.05, 1.5),
        "roller_circumference": Quantity("length", 0.3, 10.0),
        "engine_inertia": Quantity("inertia", 0.0, 2.0),
        "drive_ratio": Quantity("ratio", 0.05, 100.0),
        "losses": Many(Row((Quantity("speed", 0.1, 150.0), Quantity("power", 0.0, 50e3)), _LOSS), most=100),
        "coast_down": Text(500),
        "derivative_window": Quantity("speed_rpm", 50.0, 1000.0),
    }
)
SETUP_ENTRY = Table(
    {
        "name": Text(100),
        "sheet": Text(500),
        "based_on": Text(100),
        "change": Many(ChangePair(), most=200),
        "note": Text(),
    },
    required=("name",),
)
PULL_ENTRY = Table(
    {
        "file": Text(500),
        "number": Whole(1, 200),
        "setup": Text(100),
        "kind": Word(("sweep", "steps")),
        "air": AIR,
        "head_temperature": Quantity("temperature", 223.15, 673.15),
        "note": Text(),
    },
    required=("file", "setup"),
)
SESSION = Table(
    {
        "format": Word((SESSION_FORMAT,)),
        "machine": Text(200),
        "workshop": Text(200),
        "invented": Flag(),
        "complaint": Text(),
        "riding_band": Row((_SPEED, _SPEED), "['2200 rpm', '4000 rpm']"),
        "target_lambda": Row((_LAMBDA, _LAMBDA), "[0.84, 0.90]"),
        "limits": Text(500),
        "logger": LOGGER,
        "setup": Tables(SETUP_ENTRY, least=1, most=200),
        "pull": Tables(PULL_ENTRY, most=2000),
    },
    required=("setup",),
)
