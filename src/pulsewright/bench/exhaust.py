"""Exhaust pieces, in the order in which the gas meets them."""

from dataclasses import dataclass
from typing import ClassVar

PACKINGS = ("new", "aged", "gone")  # from fresh to none


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """A straight or tapered tube."""

    piece: ClassVar[str] = "pipe"
    length: float  # [m] along the centre line
    bore_in: float  # [m] engine side
    bore_out: float  # [m] far side
    wall: str = "single"  # "single", "double", "wrapped", "coated"
    bends: tuple[float, ...] = ()  # [deg] angle of each bend


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A vane across the piece before it, as long as the bore is wide."""

    piece: ClassVar[str] = "plate"
    width: float  # [m]
    angle_deg: float  # [deg] to the flow: 0 edge on, 90 across
    from_end: float  # [m] before the outlet end of the piece it sits in


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossBolt:
    """A round bolt straight through the bore of the piece before it."""

    piece: ClassVar[str] = "cross-bolt"
    diameter: float  # [m]
    from_end: float  # [m] before the outlet end of the piece it sits in


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A thin plate with holes or a gap."""

    piece: ClassVar[str] = "disc"
    open_area_fraction: float  # [-] open area over the bore area


@dataclass(frozen=True, slots=True, kw_only=True)
class Insert:
    """A smaller tube pushed into the end of the piece before it."""

    piece: ClassVar[str] = "insert"
    length: float  # [m]
    bore: float  # [m]
    packed: bool  # the tube is perforated and wrapped in packing


@dataclass(frozen=True, slots=True, kw_only=True)
class Muffler:
    """A silencer body with a core."""

    piece: ClassVar[str] = "muffler"
    body_length: float  # [m]
    body_bore: float  # [m]
    core_bore: float  # [m]
    core: str  # "perforated packed", "baffled", "louvred"
    chambers: int
    open_area_fraction: float  # [-] holes or louvres over the core's wall area
    packing: str = PACKINGS[0]  # of a perforated packed core


@dataclass(frozen=True, slots=True, kw_only=True)
class ExhaustValve:
    """A butterfly in the exhaust pipe (the contract's piece `valve`)."""

    piece: ClassVar[str] = "valve"
    bore: float  # [m]
    angle_by_rpm: tuple[tuple[float, float], ...]  # rows (engine speed [rpm], from fully open [deg])


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """The route ends in a collector, together with the other routes that name it."""

    piece: ClassVar[str] = "join"
    into: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossover:
    """A tube to the route of another cylinder, written once in either route."""

    piece: ClassVar[str] = "crossover"
    to: int  # cylinder number of the other route
    at: float  # [m] from the port flange, along both routes
    bore: float  # [m]
    length: float  # [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """Where the gas leaves."""

    piece: ClassVar[str] = "end"
    kind: str  # "open", "flanged", "turn-out", "non-reflecting"


Piece = Pipe | Plate | CrossBolt | Disc | Insert | Muffler | ExhaustValve | Join | Crossover | End


@dataclass(frozen=True, slots=True, kw_only=True)
class Exhaust:
    """A route for each cylinder, what follows each collector, and where lambda sensors sit.

    `lambda_sensor` is keyed by a cylinder number in digits ("1"; distance from its port flange) or by a
    collector's name (distance from the collector's outlet). [m]
    """

    route: dict[int, tuple[Piece, ...]]
    after: dict[str, tuple[Piece, ...]]
    lambda_sensor: dict[str, float]
