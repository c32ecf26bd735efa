"""The exhaust of a sheet: checked values in, pieces out."""

from collections.abc import Callable
from typing import Any

from pulsewright.bench.check_exhaust import check_exhaust
from pulsewright.bench.check_route import check_route
from pulsewright.bench.exhaust import (
    CrossBolt,
    Crossover,
    Disc,
    End,
    Exhaust,
    ExhaustValve,
    Insert,
    Join,
    Muffler,
    Piece,
    Pipe,
    Plate,
)
from pulsewright.bench.fill_intake import both_bores
from pulsewright.bench.given import NOT_GIVEN, PRACTICE, Given
from pulsewright.bench.place import Place
from pulsewright.bench.route import host_of, outlet_bore, piece_length

NEAR_END = 0.05  # [m]
PACKED = "perforated packed"
# Holes or louvres over the wall area of the core; a baffled core is cut through between its baffles.
OPEN_AREA = {"perforated packed": 0.30, "louvred": 0.15, "baffled": 1.0}
CHAMBERS = {"perforated packed": 1, "louvred": 1, "baffled": 2}


def fill_exhaust(given: Given, cylinders: int) -> Exhaust:
    """All routes, what follows each collector, and the lambda sensors."""
    routes, after = given["route"], given.values.get("after", {})
    place = given.place
    exhaust = Exhaust(
        route={number: _route(routes[number], place / "route" / number) for number in sorted(routes)},
        after={name: _route(tables, place / "after" / name) for name, tables in after.items()},
        lambda_sensor=given.values.get("lambda_sensor", {}),
    )
    check_exhaust(exhaust, cylinders, place)
    return exhaust


def _route(tables: tuple[dict[str, Any], ...], place: Place) -> tuple[Piece, ...]:
    pieces: list[Piece] = []
    for number, table in enumerate(tables, 1):
        pieces.append(_MAKERS[table["piece"]](Given(table, place / number), pieces))
    if not isinstance(pieces[-1], End | Join):
        (place / "end").assume("open", f"{NOT_GIVEN}; the route ends in the open")
        pieces.append(End(kind="open"))
    check_route(pieces, place)
    return tuple(pieces)


def _pipe(given: Given, _before: list[Piece]) -> Piece:
    bore_in, bore_out = both_bores(dict(given.values), given.place)
    return Pipe(
        length=given["length"],
        bore_in=bore_in,
        bore_out=bore_out,
        wall=given.plain("wall", "single", PRACTICE),
        bends=given.plain("bends", (), "taken as straight"),
    )


def _plate(given: Given, before: list[Piece]) -> Piece:
    return Plate(
        width=given["width"],
        angle_deg=given.quantity("angle", 90.0, "angle_deg", "taken as straight across"),
        from_end=_from_end(given, before),
    )


def _cross_bolt(given: Given, before: list[Piece]) -> Piece:
    return CrossBolt(diameter=given["diameter"], from_end=_from_end(given, before))


def _from_end(given: Given, before: list[Piece]) -> float:
    host = host_of(before, len(before))
    default = min(NEAR_END, piece_length(host) / 2.0) if host else NEAR_END
    return given.quantity("from_end", default, "length", f"near the end, {PRACTICE}")


def _disc(given: Given, _before: list[Piece]) -> Piece:
    return Disc(open_area_fraction=given["open_area_fraction"])


def _insert(given: Given, _before: list[Piece]) -> Piece:
    packed = given.plain("packed", False, "taken as a plain tube")
    return Insert(length=given["length"], bore=given["bore"], packed=packed)


def _muffler(given: Given, _before: list[Piece]) -> Piece:
    core = given["core"]
    return Muffler(
        body_length=given["body_length"],
        body_bore=given["body_bore"],
        core_bore=given["core_bore"],
        core=core,
        chambers=given.plain("chambers", CHAMBERS[core], f"usual for a {core} core, {PRACTICE}"),
        open_area_fraction=given.quantity(
            "open_area_fraction",
            OPEN_AREA[core],
            "fraction",
            f"of the core's wall, usual for a {core} core, {PRACTICE}",
        ),
        packing=_packing(given),
    )


def _packing(given: Given) -> str:
    """State of the packing; only a packed core has one."""
    if given["core"] == PACKED:
        return given.plain("packing", "new", "taken as fresh")
    if "packing" in given:
        raise (given.place / "packing").error(
            f"{given.place.key}.packing is given for a {given['core']} core, which has none",
            f'leave it out, or give core = "{PACKED}"',
        )
    return "new"


def _valve(given: Given, before: list[Piece]) -> Piece:
    bore = given.values.get("bore")
    if bore is None and host_of(before, len(before)):
        bore = given.quantity("bore", outlet_bore(before), "length", "as wide as the pipe before it")
    if bore is None:
        raise (given.place / "bore").error(
            f"{given.place.key}.bore is missing", "give the bore of the butterfly's housing"
        )
    return ExhaustValve(bore=bore, angle_by_rpm=_angles(given))


def _angles(given: Given) -> tuple[tuple[float, float], ...]:
    """The butterfly's angle against engine speed; one angle holds at every speed."""
    if ("angle" in given) == ("angle_by_rpm" in given):
        key = "angle" if "angle" in given else "angle_by_rpm"
        word = "given twice" if "angle" in given else "missing"
        raise (given.place / key).error(
            f"the angle of the valve in {given.place.key} is {word}",
            "give angle = '30 deg', or angle_by_rpm = [[2000, 40], [4000, 0]], from fully open",
        )
    return ((0.0, given["angle"]),) if "angle" in given else given["angle_by_rpm"]


def _join(given: Given, _before: list[Piece]) -> Piece:
    return Join(into=given["into"])


def _crossover(given: Given, _before: list[Piece]) -> Piece:
    return Crossover(to=given["to"], at=given["at"], bore=given["bore"], length=given["length"])


def _end(given: Given, _before: list[Piece]) -> Piece:
    return End(kind=given.plain("kind", "open", PRACTICE))


_MAKERS: dict[str, Callable[[Given, list[Piece]], Piece]] = {
    "pipe": _pipe,
    "plate": _plate,
    "cross-bolt": _cross_bolt,
    "disc": _disc,
    "insert": _insert,
    "muffler": _muffler,
    "valve": _valve,
    "join": _join,
    "crossover": _crossover,
    "end": _end,
}
