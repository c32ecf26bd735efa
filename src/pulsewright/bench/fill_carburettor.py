"""The carburettors of a sheet."""

import math

from pulsewright.bench.carburettor import AIRBOX, FIXED, OUTSIDE, SLIDE, SUCTION, Carburettor, HoleRow
from pulsewright.bench.engine import Engine
from pulsewright.bench.fill_slide import (
    OWNERS,
    USUAL,
    NeedleSizes,
    behind,
    fill_cutaway,
    fill_needle,
    fill_piston,
    usual_kind,
)
from pulsewright.bench.given import PRACTICE, Given, rounded
from pulsewright.units import show

BODY_LENGTH = 0.055  # [m]
THROTTLE_PER_VALVE = 0.92
VENTURI_PER_THROTTLE = 0.86
# Sizes over the venturi's diameter: where a tuner starts, not where he ends.
MAIN_AIR_BLEED, MAIN_NOZZLE = 0.030, 0.11
# By the cylinders behind it: one alone draws in pulses, which draw more fuel for the same air, and the more draw in
# turn, the evener the flow. Shares of 0.036 to 0.056 are met, common practice; this model's nozzle, without a booster
# venturi, wants more in an even flow. Chosen so that it runs invented engines near lambda 0.9 wide open.
MAIN_JET = {1: 0.044, 2: 0.050, 3: 0.052, 4: 0.058, 5: 0.062, 6: 0.065}
INTERMEDIATE_JET, INTERMEDIATE_OF_ONE = 0.020, 0.018
NOZZLE_PER_JET = 1.5  # at least
NEEDLE_AIR_BLEED = 0.0135  # where a needle stands in the main outlet
INTERMEDIATE_AIR_BLEED = 0.030
NOZZLE_LIP = 0.006  # [m]
WIDE_OPEN = 1.0
PUMP_TIME = 0.3  # [s]
CLOSED_ANGLE = 8.0  # [deg]
IDLE_OUTLET = 0.7e-3  # [m]


def fill_carburettors(tables: list[Given], engine: Engine, airbox: bool) -> tuple[Carburettor, ...]:
    """All carburettors, behind an airbox or not; together they must feed every cylinder once."""
    carburettors = tuple(_carburettor(given, engine, len(tables), airbox) for given in tables)
    _check_feeds(tables, carburettors, engine.cylinders)
    return carburettors


def _carburettor(given: Given, engine: Engine, count: int, airbox: bool) -> Carburettor:
    kind = given.plain("kind", usual_kind(given.values), "the kind that has the parts named here")
    throttle_bore, venturi = _bores(given, engine)
    body = given.quantity("body_length", BODY_LENGTH, "length", PRACTICE)
    middle = rounded(body / 2.0)
    front = given.quantity("venturi_from_front", middle, "length", "middle of the body")
    if not front < body:
        raise (given.place / "venturi_from_front").error(
            f"the venturi stands {show(front, 'length')} behind the front of a body of {show(body, 'length')}",
            "measure from the front face to the narrowest place; it lies inside the body",
        )
    feeds = _feeds(given, engine, count)
    usual = USUAL.get((kind, behind(feeds)))
    jets = _jets(given, venturi, usual, len(feeds))
    _refuse_other_kinds(given, kind)
    if kind != FIXED and "main_nozzle" in given:
        (given.place / "main_nozzle").assume("not used", "a needle stands in the needle jet of this kind")
    needle = fill_needle(given, venturi, jets["main_jet"], usual, behind(feeds)) if usual else None
    carburettor = Carburettor(
        kind=kind,
        feeds=feeds,
        venturi=venturi,
        throttle_bore=throttle_bore,
        body_length=body,
        venturi_from_front=front,
        throttle=given.quantity("throttle", WIDE_OPEN, "fraction", "pulls are made wide open"),
        throttle_closed_deg=_closed_angle(given, kind),
        main_nozzle=needle.jet if needle else jets.pop("main_nozzle"),
        nozzle_lip=given.quantity("nozzle_lip", NOZZLE_LIP, "length", PRACTICE),
        idle_outlet=_idle_outlet(given, venturi, usual),
        bowl_vent=_bowl_vent(given, airbox),
        pump_volume=given.values.get("pump_volume", 0.0),
        pump_time=_pump_time(given),
        emulsion_tube=_emulsion_tube(given, jets["main_air_bleed"]),
        cutaway=fill_cutaway(given, venturi) if kind == SLIDE else 0.0,
        needle=needle,
        piston=fill_piston(given, venturi) if kind == SUCTION else None,
        **jets,
    )
    _check_nozzle(given, carburettor)
    return carburettor


def _bowl_vent(given: Given, airbox: bool) -> str:
    """Where the bowl is vented; without an airbox there is but the open air."""
    if airbox:
        return given.plain("bowl_vent", AIRBOX, f"the intake has a plenum; {PRACTICE}")
    if given.values.get("bowl_vent") == AIRBOX:
        raise (given.place / "bowl_vent").error(
            f"{given.place.key}.bowl_vent is '{AIRBOX}', and the intake has no plenum",
            "give [intake] its plenum, or leave bowl_vent out",
        )
    return OUTSIDE


def _emulsion_tube(given: Given, bleed: float) -> tuple[HoleRow, ...]:
    """The rows of holes that the sheet gives, the highest first; none is the bleed's own opening above the fuel."""
    rows = given.values.get("emulsion_tube", ())
    if rows and bleed <= 0.0:
        raise (given.place / "emulsion_tube").error(
            f"{given.place.key} has an emulsion tube, and main_air_bleed is 0",
            "give the bleed that lets air into the tube, or leave the tube out",
        )
    return tuple(HoleRow(**row) for row in sorted(rows, key=lambda row: row["below"]))


def _pump_time(given: Given) -> float:
    """Time in which the accelerator pump's shot fades; of no meaning without a pump. [s]"""
    if "pump_volume" in given:
        return given.quantity("pump_time", PUMP_TIME, "time", PRACTICE)
    if "pump_time" in given:
        raise (given.place / "pump_time").error(
            f"{given.place.key} has a pump_time and no pump_volume",
            "give what the pump delivers on the throttle's whole way, like pump_volume = '0.6 cm^3'",
        )
    return PUMP_TIME


def _idle_outlet(given: Given, venturi: float, usual: NeedleSizes | None) -> float:
    """What the mixture screw leaves open. [m]"""
    if usual is None:
        bore, why = IDLE_OUTLET, "mixture screw in the middle"
    else:
        bore, why = round(usual.idle_outlet * venturi, 5), f"{usual.idle_outlet:g} of the venturi"
    return given.quantity("idle_outlet", bore, "length", f"{why}; {PRACTICE}")


def _closed_angle(given: Given, kind: str) -> float:
    """Angle at which the butterfly shuts; a slide has none. [deg]"""
    if kind == SLIDE:
        return 0.0
    return given.quantity("throttle_closed_angle", CLOSED_ANGLE, "angle_deg", f"5 to 15 degrees, {PRACTICE}")


def _refuse_other_kinds(given: Given, kind: str) -> None:
    """A key of a part that this kind does not have."""
    for owners, keys in OWNERS.items():
        for key in keys:
            if key in given and kind not in owners:
                place = given.place / key
                raise place.error(
                    f"{place.key} belongs to {' and '.join(owners)}, and this carburettor is of kind '{kind}'",
                    "correct the kind, or leave the key out",
                )


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


def _jets(given: Given, venturi: float, usual: NeedleSizes | None, fed: int) -> dict[str, float]:
    """Jets and bleeds, those left out by the venturi and by how many cylinders are fed."""
    shares = {
        "main_jet": MAIN_JET[fed],
        "main_air_bleed": MAIN_AIR_BLEED,
        "main_nozzle": MAIN_NOZZLE,
        "intermediate_jet": INTERMEDIATE_JET if fed > 1 else INTERMEDIATE_OF_ONE,
        "intermediate_air_bleed": INTERMEDIATE_AIR_BLEED,
    }
    jets: dict[str, float] = {}
    if usual:
        shares |= {
            "main_jet": usual.main,
            "main_air_bleed": NEEDLE_AIR_BLEED,
            "intermediate_jet": usual.pilot,
            "intermediate_air_bleed": usual.pilot_bleed,
        }
        del shares["main_nozzle"]  # the needle stands in it
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
    place = given.place / ("needle_jet" if carburettor.needle else "main_nozzle")
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
