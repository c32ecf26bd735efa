"""The carburettors of a sheet."""

import math

from pulsewright.bench.carburettor import Carburettor
from pulsewright.bench.engine import Engine
from pulsewright.bench.given import PRACTICE, Given, rounded
from pulsewright.units import show

BODY_LENGTH = 0.055  # [m]
THROTTLE_PER_VALVE = 0.92
VENTURI_PER_THROTTLE = 0.86
# Sizes over the venturi's diameter: where a tuner starts, not where he ends.
MAIN_JET, MAIN_AIR_BLEED, MAIN_NOZZLE = 0.050, 0.030, 0.11
NOZZLE_PER_JET = 1.5  # at least
INTERMEDIATE_JET, INTERMEDIATE_AIR_BLEED = 0.020, 0.030
NOZZLE_LIP = 0.006  # [m]
ONE_KIND = (
    "computed as a fixed venturi with the throttle open and the slide or piston fully raised;"
    " its needle and its moving slide are not modelled at present"
)


def fill_carburettors(tables: list[Given], engine: Engine) -> tuple[Carburettor, ...]:
    """All carburettors; together they must feed every cylinder once."""
    carburettors = tuple(_carburettor(given, engine, len(tables)) for given in tables)
    _check_feeds(tables, carburettors, engine.cylinders)
    return carburettors


def _carburettor(given: Given, engine: Engine, count: int) -> Carburettor:
    kind = given.plain("kind", "fixed venturi", "the kind that is modelled")
    if kind != "fixed venturi":
        (given.place / "kind").assume("fixed venturi", ONE_KIND)
    throttle, venturi = _bores(given, engine)
    body = given.quantity("body_length", BODY_LENGTH, "length", PRACTICE)
    middle = rounded(body / 2.0)
    front = given.quantity("venturi_from_front", middle, "length", "middle of the body")
    if not front < body:
        raise (given.place / "venturi_from_front").error(
            f"the venturi stands {show(front, 'length')} behind the front of a body of {show(body, 'length')}",
            "measure from the front face to the narrowest place; it lies inside the body",
        )
    jets = _jets(given, venturi)
    carburettor = Carburettor(
        kind=kind,
        feeds=_feeds(given, engine, count),
        venturi=venturi,
        throttle_bore=throttle,
        body_length=body,
        venturi_from_front=front,
        nozzle_lip=given.quantity("nozzle_lip", NOZZLE_LIP, "length", PRACTICE),
        **jets,
    )
    _check_nozzle(given, carburettor)
    return carburettor


def _bores(given: Given, engine: Engine) -> tuple[float, float]:
    """Throttle bore and venturi; each from the other, or from the intake valve. [m]"""
    if "venturi" in given and "throttle_bore" not in given:
        default = rounded(given["venturi"] / VENTURI_PER_THROTTLE)
        why = f"the venturi over {VENTURI_PER_THROTTLE:g}, {PRACTICE}"
    else:
        valve = engine.intake_valve
        default = rounded(THROTTLE_PER_VALVE * valve.diameter * math.sqrt(valve.count))
        why = f"{THROTTLE_PER_VALVE:g} of the intake valve's width, {PRACTICE}"
    throttle = given.quantity("throttle_bore", default, "length", why)
    why = f"{VENTURI_PER_THROTTLE:g} of the throttle bore, {PRACTICE}"
    venturi = given.quantity("venturi", rounded(VENTURI_PER_THROTTLE * throttle), "length", why)
    if venturi > throttle:
        raise (given.place / "venturi").error(
            f"{given.place.key}.venturi is {show(venturi, 'length')}, wider than the throttle bore of"
            f" {show(throttle, 'length')}",
            "the venturi is the narrowest place of the body",
        )
    return throttle, venturi


def _jets(given: Given, venturi: float) -> dict[str, float]:
    shares = {
        "main_jet": MAIN_JET,
        "main_air_bleed": MAIN_AIR_BLEED,
        "main_nozzle": MAIN_NOZZLE,
        "intermediate_jet": INTERMEDIATE_JET,
        "intermediate_air_bleed": INTERMEDIATE_AIR_BLEED,
    }
    jets: dict[str, float] = {}
    for key, share in shares.items():
        default = round(share * venturi, 5)  # jets come in steps of hundredths of a millimetre
        if key == "main_nozzle":
            default = max(default, round(NOZZLE_PER_JET * jets["main_jet"], 5))
        why = f"{share:g} of the venturi, a starting point; {PRACTICE}"
        jets[key] = given.quantity(key, default, "length", why)
    return jets


def _feeds(given: Given, engine: Engine, count: int) -> tuple[int, ...]:
    """Cylinders behind it; left out: all of them, or its own number where there are as many as cylinders."""
    if "feeds" in given:
        return given["feeds"]
    number = int(given.place.path[-1])
    if count == 1:
        return given.plain("feeds", tuple(range(1, engine.cylinders + 1)), "the only carburettor feeds all cylinders")
    if count == engine.cylinders:
        return given.plain("feeds", (number,), "one carburettor for each cylinder, in order")
    place = given.place / "feeds"
    raise place.error(f"{place.key} is missing", "say which cylinders stand behind it, like feeds = [1, 2]")


def _check_nozzle(given: Given, carburettor: Carburettor) -> None:
    place = given.place / "main_nozzle"
    nozzle = carburettor.main_nozzle
    if nozzle < carburettor.main_jet:
        raise place.error(
            f"{place.key} is {show(nozzle, 'length')}, narrower than the main jet of"
            f" {show(carburettor.main_jet, 'length')}",
            "the nozzle carries fuel and bleed air, so it is wider than the jet",
        )
    if nozzle > carburettor.venturi / 2.0:
        raise place.error(
            f"{place.key} is {show(nozzle, 'length')} in a venturi of {show(carburettor.venturi, 'length')};"
            " allowed: up to half of the venturi",
            "check the unit and the decimal point",
        )


def _check_feeds(tables: list[Given], carburettors: tuple[Carburettor, ...], cylinders: int) -> None:
    fed: dict[int, str] = {}
    for given, carburettor in zip(tables, carburettors, strict=True):
        place = given.place / "feeds"
        for cylinder in carburettor.feeds:
            if cylinder > cylinders:
                raise place.error(
                    f"{place.key} names cylinder {cylinder}; the engine has {cylinders}",
                    f"name cylinders from 1 to {cylinders}",
                )
            if cylinder in fed:
                raise place.error(
                    f"cylinder {cylinder} is fed by {given.place.key} and by {fed[cylinder]}",
                    "name each cylinder once, behind the one carburettor that feeds it",
                )
            fed[cylinder] = given.place.key
    missing = sorted(set(range(1, cylinders + 1)) - fed.keys())
    if missing:
        place = tables[-1].place / "feeds"
        raise place.error(
            f"no carburettor feeds cylinder {missing[0]}", f"add {missing[0]} to the feeds of its carburettor"
        )
