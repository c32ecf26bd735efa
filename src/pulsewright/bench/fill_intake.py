"""The intake of a sheet."""

import math
from typing import Any

from pulsewright.bench.carburettor import Carburettor
from pulsewright.bench.engine import Engine
from pulsewright.bench.fill_film import fill_film_split
from pulsewright.bench.given import NOT_GIVEN, PRACTICE, Given
from pulsewright.bench.intake import Duct, Intake, Mouth
from pulsewright.bench.place import Place
from pulsewright.units import show

FILTER_LOSS = 1.5
BRANCH_LENGTH = 0.08  # [m]
AIR_DENSITY = 1.2  # [kg/m³] in which a filter's pressure drop is taken to be measured


def fill_intake(given: Given, engine: Engine, carburettors: tuple[Carburettor, ...]) -> Intake:
    """The intake; ducts before and after the carburettor are repeated for each carburettor."""
    before = ducts(given.values.get("before_carburettor", ()), given.place / "before_carburettor")
    after = ducts(given.values.get("after_carburettor", ()), given.place / "after_carburettor")
    return Intake(
        mouth=_mouth(given, before[0].bore_in if before else carburettors[0].throttle_bore),
        before_carburettor=before,
        after_carburettor=after,
        branch=_branches(given, engine, carburettors, after),
        plenum=given.values.get("plenum"),
        wall_film=given.values.get("wall_film", 0.0),
        film_split=fill_film_split(given, engine, carburettors),
    )


def ducts(tables: Any, place: Place) -> tuple[Duct, ...]:
    """Ducts from their tables."""
    made = []
    for number, table in enumerate(tables, 1):
        bore_in, bore_out = both_bores(table, place / number)
        made.append(Duct(length=table["length"], bore_in=bore_in, bore_out=bore_out))
    return tuple(made)


def both_bores(table: dict[str, Any], place: Place) -> tuple[float, float]:
    """Bores at the two ends of a pipe or duct: `bore`, or `bore_in` with `bore_out`. [m]"""
    ends = {"bore_in", "bore_out"} & table.keys()
    if "bore" in table and not ends:
        return table["bore"], table["bore"]
    if len(ends) == 2 and "bore" not in table:
        return table["bore_in"], table["bore_out"]
    if "bore" in table:
        raise (place / "bore").error(
            f"{place.key} gives bore and {' and '.join(sorted(ends))}",
            "give bore for a straight tube, or bore_in and bore_out for a cone",
        )
    missing = "bore" if not ends else ({"bore_in", "bore_out"} - ends).pop()
    raise (place / missing).error(
        f"{place.key}.{missing} is missing",
        "give bore for a straight tube, or bore_in and bore_out for a cone",
    )


def _mouth(given: Given, bore: float) -> Mouth:
    kind = given.plain("mouth", "open", PRACTICE)
    keys = [key for key in ("loss", "pressure_drop", "at_flow") if key in given]
    if kind != "filter":
        if keys:
            place = given.place / keys[0]
            raise place.error(
                f"{place.key} is given for the mouth '{kind}'; allowed: only for a filter",
                f'write mouth = "filter", or leave {keys[0]} out',
            )
        return Mouth(kind=kind, loss=0.0)
    return Mouth(kind=kind, loss=_filter_loss(given, keys, bore))


def _filter_loss(given: Given, keys: list[str], bore: float) -> float:
    """Loss over the dynamic head in the first duct behind the filter. [-]"""
    if keys in ([], ["loss"]):
        return given.plain("loss", FILTER_LOSS, f"a clean filter, {PRACTICE}")
    if keys != ["pressure_drop", "at_flow"]:
        place = given.place / keys[0]
        raise place.error(
            f"the filter has {' and '.join(keys)}; allowed: loss alone, or pressure_drop with at_flow",
            "give loss = 1.5, or pressure_drop = '0.3 kPa' with at_flow = '3000 l/min'",
        )
    speed = given["at_flow"] / (math.pi / 4.0 * bore**2)
    loss = given["pressure_drop"] / (0.5 * AIR_DENSITY * speed**2)
    place = given.place / "pressure_drop"
    if not 0.0 <= loss <= 50.0:
        raise place.error(
            f"{place.key} is {loss:.3g} dynamic heads in the bore of {show(bore, 'length')}; allowed: 0 to 50",
            "check the pressure drop and its flow",
        )
    (given.place / "loss").assume(f"{loss:.3g}", f"from the pressure drop, in air of {AIR_DENSITY:g} kg/m³")
    return loss


def _branches(
    given: Given, engine: Engine, carburettors: tuple[Carburettor, ...], after: tuple[Duct, ...]
) -> dict[int, tuple[Duct, ...]]:
    place = given.place / "branch"
    branches = {}
    for cylinder, tables in given.values.get("branch", {}).items():
        if cylinder > engine.cylinders:
            raise (place / cylinder).error(
                f"{place.key}.{cylinder} leads to a cylinder that is not there; allowed: 1 to {engine.cylinders}",
                "check the number, or engine.cylinders",
            )
        branches[cylinder] = ducts(tables, place / cylinder)
    for carburettor in carburettors:
        for cylinder in carburettor.feeds:
            if cylinder not in branches:
                branches[cylinder] = _usual_branch(place / cylinder, carburettor, after)
    return dict(sorted(branches.items()))


def _usual_branch(place: Place, carburettor: Carburettor, after: tuple[Duct, ...]) -> tuple[Duct, ...]:
    """What leads to a cylinder whose branch is left out."""
    if after and len(carburettor.feeds) == 1:
        place.assume("none", f"{NOT_GIVEN}; the duct after the carburettor ends at the port")
        return ()
    bore = after[-1].bore_out if after else carburettor.throttle_bore
    place.assume(
        f"{show(BRANCH_LENGTH, 'length')} of {show(bore, 'length')} bore",
        f"{NOT_GIVEN}; a short straight runner, {PRACTICE}",
    )
    return (Duct(length=BRANCH_LENGTH, bore_in=bore, bore_out=bore),)
