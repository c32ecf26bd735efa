"""The setup sheet, format 1, as data: every key, what may stand there, and the range that is believed.

The ranges catch slips of unit and decimal point; they are wide on purpose and say nothing about good
practice. Bounds are in SI units (bends and crank angles in degrees, engine speeds in rpm).
"""

from pulsewright.bench.carburettor import AIRBOX, FIXED, OUTSIDE, SLIDE, SUCTION
from pulsewright.bench.exhaust import PACKINGS
from pulsewright.bench.jets import Jet
from pulsewright.bench.keys import (
    Curve,
    Either,
    Flag,
    Key,
    Many,
    Named,
    Numbered,
    Quantity,
    Row,
    Table,
    Tables,
    Text,
    Whole,
    Word,
)
from pulsewright.bench.timing import EXHAUST_CLOSES, EXHAUST_OPENS, INTAKE_CLOSES, INTAKE_OPENS, Timing

FORMAT = "pulsewright setup 1"
MOST_CYLINDERS = 6
MOST_HOLE_ROWS = 8  # of an emulsion tube


def _length(low_mm: float, high_mm: float, *, zero: bool = False) -> Quantity:
    return Quantity("length", low_mm * 1e-3, high_mm * 1e-3, zero=zero)


_SPEED = Quantity("speed_rpm", 100.0, 20000.0)
_CYLINDER = Whole(1, MOST_CYLINDERS)
_CRANK_ANGLE = Quantity("angle_deg", 0.0, 720.0)

AIR = Table(
    {
        "temperature": Quantity("temperature", 243.15, 333.15),
        "pressure": Quantity("pressure", 50e3, 110e3),
        "humidity": Quantity("fraction", 0.0, 1.0),
    }
)


def _valve(opens: Timing, closes: Timing) -> Table:
    return Table(
        {
            "count": Whole(1, 4),
            "diameter": _length(10, 100),
            "lift": _length(2, 25),
            "opens": opens,
            "closes": closes,
            "check_lift": _length(0.01, 5, zero=True),
            "flow_factor": Quantity("ratio", 0.5, 1.6),
            "lift_table": Curve(Row((_CRANK_ANGLE, _length(0, 25)), "[330, '2.4 mm']"), least=4),
        }
    )


_PORT = Table({"length": _length(10, 400), "bore": _length(8, 100)})
ENGINE = Table(
    {
        "cylinders": Whole(1, MOST_CYLINDERS),
        "bore": _length(20, 200),
        "stroke": _length(15, 250),
        "rod": _length(30, 600),
        "compression_ratio": Quantity("ratio", 4.0, 18.0),
        "firing": Many(Quantity("angle_deg", 0.0, 719.99), least=1, most=MOST_CYLINDERS),
        "cooling": Word(("air", "water")),
        "intake_valve": _valve(INTAKE_OPENS, INTAKE_CLOSES),
        "exhaust_valve": _valve(EXHAUST_OPENS, EXHAUST_CLOSES),
        "intake_port": _PORT,
        "exhaust_port": _PORT,
    },
    required=("bore", "stroke", "compression_ratio", "intake_valve", "exhaust_valve"),
)

IGNITION = Table(
    {"advance": Curve(Row((_SPEED, Quantity("angle_deg", -20.0, 70.0)), "[3500, 32]"))}, required=("advance",)
)

FUEL = Table(
    {
        "kind": Word(("petrol", "E5", "E10", "E85", "ethanol", "custom")),
        "stoichiometric_afr": Quantity("ratio", 5.0, 18.0),
        "density": Quantity("density", 500.0, 1200.0),
        "heating_value": Quantity("specific_energy", 15e6, 50e6),
        "latent_heat": Quantity("specific_energy", 0.1e6, 1.5e6),
        "hydrogen_per_carbon": Quantity("ratio", 0.8, 4.0),
        "oxygen_per_carbon": Quantity("ratio", 0.0, 1.0),
        "octane": Quantity("ratio", 60.0, 130.0),
    }
)

CARBURETTOR = Table(
    {
        "kind": Word((FIXED, SLIDE, SUCTION)),
        "feeds": Many(_CYLINDER, least=1, most=MOST_CYLINDERS),
        "venturi": _length(5, 80),
        "throttle_bore": _length(6, 100),
        "body_length": _length(15, 250),
        "venturi_from_front": _length(2, 240),
        "main_jet": Jet(0.2e-3, 6e-3),
        "main_air_bleed": Jet(0.2e-3, 6e-3, zero=True),
        "emulsion_tube": Many(
            Table(
                {"below": _length(0, 80), "holes": Whole(1, 24), "bore": _length(0.2, 4)},
                required=("below", "holes", "bore"),
            ),
            most=MOST_HOLE_ROWS,
        ),
        "main_nozzle": Jet(0.5e-3, 15e-3),
        "nozzle_lip": _length(0, 50),
        "bowl_vent": Word((AIRBOX, OUTSIDE)),
        "intermediate_jet": Jet(0.15e-3, 4e-3, zero=True),
        "intermediate_air_bleed": Jet(0.2e-3, 6e-3, zero=True),
        "idle_outlet": Jet(0.1e-3, 2e-3),
        "throttle": Quantity("fraction", 0.01, 1.0),
        "pump_volume": Quantity("volume", 0.02e-6, 10e-6, zero=True),
        "pump_time": Quantity("time", 0.02, 5.0),
        "throttle_closed_angle": Quantity("angle_deg", 0.0, 30.0),
        "cutaway": _length(0, 12),
        "needle_jet": Jet(0.8e-3, 6e-3),
        "needle_diameter": _length(0.5, 6),
        "needle_taper": Quantity("angle_deg", 0.0, 10.0),
        "needle_straight": _length(0, 60),
        "needle_clip": Whole(1, 9),
        "needle_clip_pitch": _length(0.2, 3),
        "piston_mass": Quantity("mass", 0.005, 1.0),
        "piston_diameter": _length(15, 150),
        "piston_vent": _length(0.5, 12),
        "spring_down": Quantity("force", 0.0, 50.0),
        "spring_up": Quantity("force", 0.0, 80.0),
    }
)

_DUCTS = Many(
    Table(
        {
            "length": _length(1, 2000),
            "bore": _length(8, 200),
            "bore_in": _length(8, 200),
            "bore_out": _length(8, 200),
        },
        required=("length",),
    ),
    most=20,
)
INTAKE = Table(
    {
        "mouth": Word(("open", "stack", "filter")),
        "loss": Quantity("ratio", 0.0, 50.0),
        "pressure_drop": Quantity("pressure", 1.0, 20e3),
        "at_flow": Quantity("volume_flow", 1e-4, 1.0),
        "plenum": Quantity("volume", 5e-5, 0.1),
        "before_carburettor": _DUCTS,
        "after_carburettor": _DUCTS,
        "branch": Numbered(_DUCTS, MOST_CYLINDERS),
        "wall_film": Quantity("fraction", 0.01, 0.9, zero=True),
        "film_split": Numbered(Quantity("fraction", 0.0, 1.0), MOST_CYLINDERS),
    }
)

_PIECE = {"piece": Text()}
_FROM_END = _length(0, 3000)
_OPEN_AREA = Quantity("fraction", 0.01, 1.0)
_BUTTERFLY_ANGLE = Quantity("angle_deg", 0.0, 85.0)
_BUTTERFLY = Curve(Row((_SPEED, _BUTTERFLY_ANGLE), "[3000, 40]"))
PIECES: dict[str, Table] = {
    "pipe": Table(
        {
            **_PIECE,
            "length": _length(5, 6000),
            "bore": _length(10, 200),
            "bore_in": _length(10, 200),
            "bore_out": _length(10, 200),
            "wall": Word(("single", "double", "wrapped", "coated")),
            "bends": Many(Quantity("angle_deg", 1.0, 360.0), most=30),
        },
        required=("length",),
    ),
    "plate": Table(
        {
            **_PIECE,
            "width": _length(1, 150),
            "angle": Quantity("angle_deg", 0.0, 90.0),
            "from_end": _FROM_END,
        },
        required=("width",),
    ),
    "cross-bolt": Table({**_PIECE, "diameter": _length(1, 50), "from_end": _FROM_END}, required=("diameter",)),
    "disc": Table({**_PIECE, "open_area_fraction": _OPEN_AREA}, required=("open_area_fraction",)),
    "insert": Table(
        {**_PIECE, "length": _length(5, 2000), "bore": _length(5, 150), "packed": Flag()},
        required=("length", "bore"),
    ),
    "muffler": Table(
        {
            **_PIECE,
            "body_length": _length(30, 2000),
            "body_bore": _length(25, 400),
            "core_bore": _length(8, 200),
            "core": Word(("perforated packed", "baffled", "louvred")),
            "chambers": Whole(1, 8),
            "open_area_fraction": _OPEN_AREA,
            "packing": Word(PACKINGS),
        },
        required=("body_length", "body_bore", "core_bore", "core"),
    ),
    "valve": Table({**_PIECE, "bore": _length(10, 200), "angle": _BUTTERFLY_ANGLE, "angle_by_rpm": _BUTTERFLY}),
    "join": Table({**_PIECE, "into": Text(60)}, required=("into",)),
    "crossover": Table(
        {
            **_PIECE,
            "to": _CYLINDER,
            "at": _length(5, 6000),
            "bore": _length(5, 150),
            "length": _length(5, 2000),
        },
        required=("to", "at", "bore", "length"),
    ),
    "end": Table(
        {**_PIECE, "kind": Word(("open", "flanged", "turn-out", "non-reflecting"))},
    ),
}
ROUTE = Many(Either("piece", PIECES), least=1, most=60)
EXHAUST = Table(
    {
        "route": Numbered(ROUTE, MOST_CYLINDERS),
        "after": Named(ROUTE),
        "lambda_sensor": Named(_length(5, 6000)),
    },
    required=("route",),
)

SHEET_KEYS: dict[str, Key] = {
    "format": Word((FORMAT,)),
    "name": Text(200),
    "engine": ENGINE,
    "ignition": IGNITION,
    "fuel": FUEL,
    "carburettor": Tables(CARBURETTOR, least=1, most=MOST_CYLINDERS),
    "intake": INTAKE,
    "exhaust": EXHAUST,
    "air": AIR,
}
SHEET = Table(SHEET_KEYS, required=("engine", "exhaust"))
