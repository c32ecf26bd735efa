"""Throat, throttle and circuits of a carburettor as numbers of the kernel's table."""

from __future__ import annotations

import math

import numpy as np

from pulsewright.bench.carburettor import FIXED, SLIDE, SUCTION, Carburettor, Needle, Piston
from pulsewright.bench.fill_slide import piston_area
from pulsewright.kernel.carburettor import GRAVITY
from pulsewright.network.assembly import area_of
from pulsewright.network.calibration import Calibration
from pulsewright.physics.jet_flow import CD_CHAMFERED
from pulsewright.physics.needle_annulus import needle_annulus, needle_diameter
from pulsewright.physics.throttle_openings import (
    plate_angle,
    plate_open_fraction,
    slide_area,
    slide_loss,
    throttle_plate_loss,
)

VENTURI_CD = 0.95  # [-] 0.80 to 0.95 in textbooks, from memory
NOZZLE_CD = 0.75  # [-] emulsion outlet, assumed
BLEED_CD = 0.75  # [-] air bleed and vent, short bores, assumed
# Ordinary sizes, end corrections counted: jet 4.5 mm of 2 mm bore 1400, passage from the bowl 20 mm of
# 5 mm 1000, well 40 mm of 7 mm 1000, nozzle 30 mm of 4 mm a third full of fuel 800; doubtful by half.
COLUMN = 5000.0  # [1/m] length over area of the fuel passages behind a jet of 2 mm, assumed
COLUMN_JET = 2.0e-3
WELL_BORE = 8.0e-3  # [m] assumed
SPILL_TIME = 2.0e-3  # [s] for fuel above the lip to leave; with the column about 5 ms of lag, assumed
TUBE_BORE = 4.0e-3  # [m] of an emulsion tube inside, assumed
TUBE_TIME = 0.05  # [s] its fuel takes to follow: 10 mm of head through 3 mm² of holes move it by 0.1 m/s, assumed
HOLE_CD = 0.75  # [-] of its holes, short bores as a bleed, assumed
MAIN_SHARE = 0.75  # suction at the main nozzle over that of the throat, assumed
INTERMEDIATE_SHARE = 0.3  # suction at the intermediate outlet over that at the venturi, assumed
INTERMEDIATE_OUTLET = 2.0e-3  # [m] bore as large as all its outlets together, assumed
PROGRESSION_HOLES = 1.2e-3  # [m] bore as large as the progression holes among them, assumed
# Share of the way on which the throttle's edge passes the progression holes, that of a slide its bypass hole. Common
# practice: progression rules from an eighth to a quarter, a slide's pilot below.
UNCOVERS = {FIXED: (0.04, 0.25), SUCTION: (0.04, 0.25), SLIDE: (0.02, 0.18)}
START_LIFT = 0.5  # [-] of the bore


def throttle_loss(part: Carburettor) -> float:
    """Loss of what stands in the bore, on the bore's velocity; a piston stands where it starts. [-]"""
    if part.kind == SLIDE:
        return slide_loss(part.throttle * part.venturi, part.venturi)
    plate = throttle_plate_loss(part.throttle, part.throttle_closed_deg)
    return plate + (slide_loss(START_LIFT * part.venturi, part.venturi) if part.piston else 0.0)


def open_fraction(part: Carburettor) -> float:
    """Area that the throttle leaves open over that of its bore. [-]"""
    if part.kind == SLIDE:
        return slide_area(part.throttle * part.venturi, part.venturi) / area_of(part.venturi)
    angle = plate_angle(part.throttle, part.throttle_closed_deg)
    return min(plate_open_fraction(angle, part.throttle_closed_deg), 1.0) if angle > 0.0 else 1.0


def fill_throat(row: np.void, part: Carburettor) -> None:
    """Area of the throat [m²]; under a slide it is taken where the needle jet lies, half-way along the cutaway."""
    row["throat"] = VENTURI_CD * area_of(part.venturi)
    if part.kind == SLIDE:
        row["throat"] = VENTURI_CD * slide_area(part.throttle * part.venturi + 0.5 * part.cutaway, part.venturi)


def fill_piston(row: np.void, part: Carburettor, piston: Piston, needle: Needle) -> None:
    """A piston that stands half-way up to start with."""
    area = piston_area(piston.diameter, part.venturi)
    row["moves"], row["lift"] = 1, START_LIFT * part.venturi
    row["mass"], row["diaphragm"] = piston.mass, area
    row["weight"] = piston.mass * GRAVITY + piston.spring_down
    row["spring_rate"] = (piston.spring_up - piston.spring_down) / part.venturi
    row["damping"] = 0.5 * row["air_density"] * area**3 / (BLEED_CD * area_of(piston.vent)) ** 2
    row["bore"], row["throat_cd"] = part.venturi, VENTURI_CD
    row["plate_loss"] = throttle_plate_loss(part.throttle, part.throttle_closed_deg)
    row["needle_jet"], row["needle"], row["needle_cd"] = needle.jet, needle.diameter, NOZZLE_CD
    row["needle_slope"], row["needle_straight"] = slope_of(needle), needle.straight - needle.raised


def slope_of(needle: Needle) -> float:
    """Loss of diameter over length on the taper. [-]"""
    return 2.0 * math.tan(math.radians(0.5 * needle.taper_deg))


def main_outlet(part: Carburettor) -> float:
    """Open area of the main outlet before its discharge coefficient; of a slide at its present lift. [m²]"""
    needle = part.needle
    if needle is None:
        return area_of(part.main_nozzle)
    lift = part.throttle * part.venturi if part.kind == SLIDE else START_LIFT * part.venturi
    straight = needle.straight - needle.raised
    return needle_annulus(needle.jet, needle_diameter(lift, straight, needle.diameter, slope_of(needle)))


def intermediate_outlets(part: Carburettor) -> tuple[float, float]:
    """Outlets of the intermediate circuit that feed, and those that let air in from in front of the throttle. [m²]

    The idle hole always feeds. Progression holes let air in until the throttle's edge has passed them; what there
    is besides, towards the venturi, comes in evenly from there to wide open.
    """
    first, last = UNCOVERS[part.kind]
    passed = min(max((part.throttle - first) / (last - first), 0.0), 1.0)
    besides = min(max((part.throttle - last) / (1.0 - last), 0.0), 1.0)
    whole = area_of(INTERMEDIATE_OUTLET)
    idle = min(area_of(part.idle_outlet), whole)
    holes = min(area_of(PROGRESSION_HOLES), whole - idle)
    covered = (1.0 - passed) * holes
    return whole - covered - (1.0 - besides) * (whole - idle - holes), covered


def fill_tube(row: np.void, part: Carburettor) -> None:
    """Emulsion tube of the main circuit, full to the fuel in the bowl."""
    row["rows"] = len(part.emulsion_tube)
    row["tube_area"], row["tube_time"] = area_of(TUBE_BORE), TUBE_TIME
    for k, holes in enumerate(part.emulsion_tube):
        row["row_top"][k] = 0.5 * holes.bore - holes.below
        row["row_bore"][k] = holes.bore
        row["row_area"][k] = HOLE_CD * holes.holes * area_of(holes.bore)


def fill_circuits(rows: np.ndarray, part: Carburettor, k: Calibration) -> None:
    """Main and intermediate circuit, wells full, as on a running engine."""
    feeding, covered = intermediate_outlets(part)
    sizes = (
        (part.main_jet, area_of(part.main_air_bleed), main_outlet(part), MAIN_SHARE * k.nozzle_suction, k.main_jet),
        (
            part.intermediate_jet, area_of(part.intermediate_air_bleed) + covered, feeding,
            INTERMEDIATE_SHARE, k.intermediate_jet,
        ),
    )  # fmt: skip
    for row, (jet, bleed, outlet, share, flow) in zip(rows, sizes, strict=True):
        row["jet"] = flow * CD_CHAMFERED * area_of(jet)
        row["bleed"] = k.bleed * BLEED_CD * bleed
        row["outlet"] = NOZZLE_CD * outlet
        row["lip"] = row["level"] = part.nozzle_lip
        row["well_area"] = area_of(WELL_BORE)
        row["column"] = k.column * COLUMN * (COLUMN_JET / max(jet, 0.2e-3)) ** 2
        row["spill_time"] = SPILL_TIME
        row["suction_share"] = share
    fill_tube(rows[0], part)
    rows[1]["behind_share"] = 1.0 - open_fraction(part)
    rows[1]["enters_behind"] = int(not part.wide_open)
