"""Slide, needle and piston of a carburettor, filled in from its venturi and main jet.

The default sizes are where a tuner starts: common practice, no published source.
"""

import math
from collections.abc import Container

from pulsewright.bench.carburettor import FIXED, MIDDLE_GROOVE, SLIDE, SUCTION, Needle, Piston
from pulsewright.bench.given import PRACTICE, Given, rounded
from pulsewright.units import show

NEEDLE_KEYS = (
    "needle_jet", "needle_diameter", "needle_taper", "needle_straight", "needle_clip", "needle_clip_pitch",
)  # fmt: skip
PISTON_KEYS = ("piston_mass", "piston_diameter", "piston_vent", "spring_down", "spring_up")
# Kinds that have a part, and the keys that belong to it.
OWNERS = {
    (FIXED, SUCTION): ("throttle_closed_angle",),
    (SLIDE,): ("cutaway",),
    (SLIDE, SUCTION): NEEDLE_KEYS,
    (SUCTION,): PISTON_KEYS,
}
CUTAWAY = 0.10  # of the venturi
NEEDLE_JET, NEEDLE_JET_PER_MAIN = 0.084, 1.5  # of the venturi; of the main jet at least
NEEDLE_IN_JET = 0.977  # diameter over the bore of the needle jet
NEEDLE_TAPER = 2.4  # [deg] whole angle
NEEDLE_STRAIGHT = 0.15  # of the venturi
CLIP_PITCH = 0.9e-3  # [m]
PISTON_MASS = 0.080  # [kg]
PISTON_DIAMETER = 1.7  # of the venturi
PISTON_VENT = 2.5e-3  # [m]
RISES_AT, RAISED_AT = 1000.0, 2000.0  # [Pa] of suction in the throat
GRAVITY = 9.81  # [m/s²]


def usual_kind(keys: Container[str]) -> str:
    """The kind of a carburettor that does not say it, from the parts that it names."""
    if any(key in keys for key in PISTON_KEYS):
        return SUCTION
    return SLIDE if any(key in keys for key in ("cutaway", *NEEDLE_KEYS)) else FIXED


def fill_cutaway(given: Given, venturi: float) -> float:
    """Height of the slide's cutaway. [m]"""
    why = f"{CUTAWAY:g} of the venturi, {PRACTICE}"
    return given.quantity("cutaway", round(CUTAWAY * venturi, 4), "length", why)


def fill_needle(given: Given, venturi: float, main_jet: float) -> Needle:
    """The needle and its jet."""
    bore = round(max(NEEDLE_JET * venturi, NEEDLE_JET_PER_MAIN * main_jet), 5)
    bore = given.quantity("needle_jet", bore, "length", f"{NEEDLE_JET:g} of the venturi, {PRACTICE}")
    why = f"{NEEDLE_IN_JET:g} of the needle jet, {PRACTICE}"
    diameter = given.quantity("needle_diameter", round(NEEDLE_IN_JET * bore, 5), "length", why)
    if not diameter < bore:
        place = given.place / "needle_diameter"
        raise place.error(
            f"{place.key} is {show(diameter, 'length')} in a needle jet of {show(bore, 'length')}",
            "the needle is thinner than its jet; measure both again",
        )
    clip = given.plain("needle_clip", MIDDLE_GROOVE, "middle of five grooves, counted from the blunt end")
    pitch = given.quantity("needle_clip_pitch", CLIP_PITCH, "length", PRACTICE)
    straight = rounded(NEEDLE_STRAIGHT * venturi)
    return Needle(
        jet=bore,
        diameter=diameter,
        taper_deg=given.quantity("needle_taper", NEEDLE_TAPER, "angle_deg", f"whole angle, {PRACTICE}"),
        straight=given.quantity(
            "needle_straight", straight, "length", f"{NEEDLE_STRAIGHT:g} of the venturi, {PRACTICE}"
        ),
        clip=clip,
        clip_pitch=pitch,
    )


def fill_piston(given: Given, venturi: float) -> Piston:
    """The piston; its spring such that it rises in the usual range of suction."""
    mass = given.quantity("piston_mass", PISTON_MASS, "mass", PRACTICE)
    why = f"{PISTON_DIAMETER:g} of the venturi, {PRACTICE}"
    diameter = given.quantity("piston_diameter", rounded(PISTON_DIAMETER * venturi), "length", why)
    area = piston_area(diameter, venturi)
    if area <= 0.0:
        place = given.place / "piston_diameter"
        raise place.error(
            f"{place.key} is {show(diameter, 'length')} over a venturi of {show(venturi, 'length')}",
            "the diaphragm is wider than the slide below it; measure where it works",
        )
    down = max(round(RISES_AT * area - mass * GRAVITY, 2), 0.0)
    up = round(max(RAISED_AT * area - mass * GRAVITY, down), 2)
    found = Piston(
        mass=mass,
        diameter=diameter,
        vent=given.quantity("piston_vent", PISTON_VENT, "length", PRACTICE),
        spring_down=given.quantity("spring_down", down, "force", f"rises at {RISES_AT:g} Pa of suction, {PRACTICE}"),
        spring_up=given.quantity("spring_up", up, "force", f"fully raised at {RAISED_AT:g} Pa of suction, {PRACTICE}"),
    )
    if found.spring_up < found.spring_down:
        place = given.place / "spring_up"
        raise place.error(
            f"{place.key} is {show(found.spring_up, 'force')}, less than {show(found.spring_down, 'force')} below",
            "the spring pushes harder the more it is pressed together",
        )
    return found


def piston_area(diameter: float, venturi: float) -> float:
    """Area on which the suction lifts: the diaphragm less the slide, which feels suction on both ends. [m²]"""
    return 0.25 * math.pi * (diameter * diameter - venturi * venturi)
