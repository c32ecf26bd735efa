"""Slide, needle, pilot and piston of a carburettor, filled in from its venturi.

Default sizes lie among those met in the trade (common practice, no published source: needle jets of 0.06 to 0.09 of
the venturi, needles 2 to 6 % thinner and straight for a sixth to a third of it, tapers of 1 to 3 degrees, pilots of
0.012 to 0.020, cutaways of 0.05 to 0.13). Among those they were chosen once so that this model runs two invented
engines, a twin on one carburettor and a single, near lambda 0.9 from idle to wide open, the pilot ruling the first
eighth; those with one cylinder behind them on three, of 190 to 510 cm³ a cylinder. So they say nothing about the
model, and a carburettor whose sizes are known needs none of them. One cylinder alone draws in pulses, which draw more
fuel for the same air: its needle stays thick for longer.
"""

import math
from collections.abc import Container, Sized
from dataclasses import dataclass

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
ODD_NEEDLE = 0.2  # further from the usual needle jet, a needle is taken for a slip of the pen
CLIP_PITCH = 0.9e-3  # [m]
PISTON_MASS = 0.080  # [kg]
PISTON_DIAMETER = 1.7  # of the venturi
PISTON_VENT = 2.5e-3  # [m]
RISES_AT, RAISED_AT = 1000.0, 2000.0  # [Pa] of suction in the throat
GRAVITY = 9.81  # [m/s²]


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedleSizes:
    """Usual sizes of what meters round a needle; shares of the venturi where nothing else is said."""

    main: float
    pilot: float
    pilot_bleed: float
    idle_outlet: float
    jet: float
    gap: float  # share of the jet's bore that the needle leaves
    taper_deg: float  # whole angle
    straight: float


SHARED, ALONE = "more than one cylinder", "one cylinder alone"  # what stands behind a carburettor
USUAL = {
    (SLIDE, SHARED): NeedleSizes(
        main=0.055, pilot=0.019, pilot_bleed=0.022, idle_outlet=0.011, jet=0.081,
        gap=0.024, taper_deg=1.7, straight=0.15,
    ),
    (SLIDE, ALONE): NeedleSizes(
        main=0.049, pilot=0.013, pilot_bleed=0.020, idle_outlet=0.0165, jet=0.079,
        gap=0.024, taper_deg=1.7, straight=0.22,
    ),
    (SUCTION, SHARED): NeedleSizes(
        main=0.055, pilot=0.0165, pilot_bleed=0.031, idle_outlet=0.015, jet=0.078,
        gap=0.028, taper_deg=2.0, straight=0.17,
    ),
    (SUCTION, ALONE): NeedleSizes(
        main=0.051, pilot=0.012, pilot_bleed=0.018, idle_outlet=0.018, jet=0.072,
        gap=0.034, taper_deg=1.6, straight=0.26,
    ),
}  # fmt: skip


def behind(feeds: Sized) -> str:
    """Word for what stands behind a carburettor, as the usual sizes know it."""
    return ALONE if len(feeds) == 1 else SHARED


def usual_kind(keys: Container[str]) -> str:
    """The kind of a carburettor that does not say it, from the parts that it names."""
    if any(key in keys for key in PISTON_KEYS):
        return SUCTION
    return SLIDE if any(key in keys for key in ("cutaway", *NEEDLE_KEYS)) else FIXED


def fill_cutaway(given: Given, venturi: float) -> float:
    """Height of the slide's cutaway. [m]"""
    why = f"{CUTAWAY:g} of the venturi, {PRACTICE}"
    return given.quantity("cutaway", round(CUTAWAY * venturi, 4), "length", why)


def fill_needle(given: Given, venturi: float, main_jet: float, usual: NeedleSizes, feeding: str) -> Needle:
    """The needle and its jet. feeding : the word of `behind`."""
    bore, why = round(usual.jet * venturi, 5), f"{usual.jet:g} of the venturi, usual for {feeding}"
    measured = given.values.get("needle_diameter", 0.0)
    if abs(measured - bore) < ODD_NEEDLE * bore:
        bore, why = round(measured / (1.0 - usual.gap), 5), f"the needle over {1.0 - usual.gap:g}"
    bore = max(bore, main_jet)  # a jet narrower than the main one is refused
    bore = given.quantity("needle_jet", bore, "length", f"{why}, {PRACTICE}")
    why = f"{1.0 - usual.gap:g} of the needle jet, {PRACTICE}"
    diameter = given.quantity("needle_diameter", round((1.0 - usual.gap) * bore, 5), "length", why)
    if not diameter < bore:
        place = given.place / "needle_diameter"
        raise place.error(
            f"{place.key} is {show(diameter, 'length')} in a needle jet of {show(bore, 'length')}",
            "the needle is thinner than its jet; measure both again",
        )
    clip = given.plain("needle_clip", MIDDLE_GROOVE, "middle of five grooves, counted from the blunt end")
    pitch = given.quantity("needle_clip_pitch", CLIP_PITCH, "length", PRACTICE)
    why = f"whole angle, usual for {feeding}, {PRACTICE}"
    along = f"{usual.straight:g} of the venturi, usual for {feeding}, {PRACTICE}"
    return Needle(
        jet=bore,
        diameter=diameter,
        taper_deg=given.quantity("needle_taper", usual.taper_deg, "angle_deg", why),
        straight=given.quantity("needle_straight", rounded(usual.straight * venturi), "length", along),
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
