"""How a case lies in memory: one record of flat fields over all ducts, and small tables of joints.

All ducts of a case share one block of slots. A duct takes one ghost slot, its cells, one ghost slot.
Face i lies between slot i and slot i + 1. Slots behind the last duct hold gas at rest with no volume.
Field offsets are compile-time constants, so every loop over a field vectorises.
"""

from __future__ import annotations

from functools import cache

import numpy as np

TILE = 40  # cells that a pass takes at a time: whole vectors of every width, few beyond the last cell

# Capacity classes: each is compiled once. Room costs no time, since passes end with the cells. Odd multiples of 16
# numbers: every field then begins on a cache line, and fields spread over the cache's sets (multiples of 512 share
# one, and march three times slower).
CAPACITIES = (144, 208, 336, 656, 1424, 2832, 5712)
CACHE_LINE = 64  # bytes

_CONSERVED = ("rho", "momentum", "energy", "burned", "vapour", "burned_fuel")  # per volume
_PRIMITIVE = ("u", "p", "T", "R", "cp", "gamma", "sound", "e", "yb", "yv", "yz")
# area: of the face behind a cell; the next two: cross-section of the neighbours over a cell's own; the last two:
# the cell's own over that of its faces
_GEOMETRY = (
    "area", "area_step", "stretch", "inverse_volume", "inverse_length", "friction", "drag", "heat", "wall",
    "wider_before", "wider_after", "over_left", "over_right",
)  # fmt: skip
_SOURCES = ("mass_source", "energy_source", "burned_source", "vapour_source", "burned_fuel_source")  # per second
_FACES = tuple(f"{side}_{name}" for side in ("left", "right") for name in ("rho", "u", "p", "e", "yb", "yv", "yz"))
_FLOWS = ("flow_mass", "flow_momentum", "flow_energy", "flow_b", "flow_v", "flow_z")  # through face i, with area
_MEANS = ("mean_flow", "mean_flow_T", "mean_p", "mean_T", "mean_fuel", "speed")
FIELDS = _CONSERVED + _PRIMITIVE + _GEOMETRY + _SOURCES + _FACES + _FLOWS + _MEANS

# Passages that take their Newton step side by side: their sides up and down the flow, and what comes out.
LANES = 16
_SIDES = ("area", "p", "u", "sound", "gamma", "push")
_UP = ("work", "h")
_FOUND = ("open_area", "most", "flow", "p_up", "u_up", "p_down", "u_down", "h0", "q_up", "q_down", "settled")
PASSING = np.dtype(
    [(name, "f8", (2, LANES)) for name in _SIDES] + [(name, "f8", (LANES,)) for name in (*_UP, *_FOUND)],
)

WALL, FREE_FIELD, PASSAGE = 0, 1, 2  # kinds of joint
FORWARD, BACKWARD = 1, -1  # ways that gas takes through a passage: from a to b, from b to a
ATMOSPHERE, VOLUME, CYLINDER = 0, 1, 2  # kinds of reservoir
DEGREES = 1440  # valve tables: half crank degrees over one cycle
TRACE_STEPS = 720  # traces: one row a crank degree
TUBE_ROWS = 8  # rows of holes that an emulsion tube may have
MOST_FED = 6  # cylinders behind one carburettor


def tiles_of(slots: int) -> int:
    """How many tiles hold all slots behind the first."""
    return -(-(slots - 1) // TILE)


def capacity_for(slots: int) -> int:
    """Smallest capacity class that holds the tiles of `slots`, and a slot on either side of them.

    Raises ValueError above the largest.
    """
    for capacity in CAPACITIES:
        if TILE * tiles_of(slots) + 2 <= capacity:
            return capacity
    raise ValueError(f"{slots} cells are more than {CAPACITIES[-1]}")


@cache
def cells_dtype(capacity: int) -> np.dtype:
    """Record of one case: every field over all slots, and the gas it holds.

    There is one such object for each capacity, and it is never let go: Numba tells record types apart by
    the address of their dtype, so a new one at the place of a forgotten one would be taken for it, and a
    kernel for more slots would write behind the end of the arrays.
    """
    fields: list = [(name, "f8", (capacity,)) for name in FIELDS]
    fields += [("gas_constant", "f8", (4,)), ("gas_energy", "f8", (4, 6)), ("correct_fuel", "f8"), ("rich_fuel", "f8")]
    fields += [("tiles", "i8"), ("unused", "f8", (2,)), ("passing", PASSING)]
    return np.dtype(fields)


def on_cache_lines(cells: np.ndarray) -> np.ndarray:
    """A copy of the cells of a case in which slot 1 of every field and all lanes begin a cache line. (1,)"""
    room = np.empty(cells.nbytes + CACHE_LINE, dtype=np.uint8)
    first = -(room.ctypes.data + np.dtype(np.float64).itemsize) % CACHE_LINE
    copy = room[first : first + cells.nbytes].view(cells.dtype)
    copy[:] = cells
    return copy


JOINT = np.dtype(
    [
        ("kind", "i8"),
        # side a is always a duct end, except in a passage between two reservoirs
        ("a_cell", "i8"),
        ("a_face", "i8"),
        ("a_sign", "f8"),
        ("a_area", "f8"),
        ("a_reservoir", "i8"),
        ("b_cell", "i8"),
        ("b_face", "i8"),
        ("b_sign", "f8"),
        ("b_area", "f8"),
        ("b_reservoir", "i8"),
        ("area_ab", "f8"),
        ("area_ba", "f8"),  # effective areas of the passage [m²], by direction
        ("valve", "i8"),
        ("phase", "f8"),  # row of the valve table and crank degrees to add; -1: no valve
        ("resistance", "f8"),
        ("mass_length", "f8"),
        ("mass_speed", "f8"),
        ("push", "f8"),  # radiation of an open end: what pushes back in this step [Pa s/m]
        ("target", "f8"),
        ("mean_speed", "f8"),
        ("sum_speed", "f8"),  # free field: mean pressure, mean speed out
        ("guess_a", "f8"),
        ("guess_b", "f8"),
        ("way", "i8"),
        ("flow", "f8"),  # last mass flow a to b [kg/s], its stagnation enthalpy [J/kg] and fractions
        ("h0", "f8"),
        ("yb", "f8"),
        ("yv", "f8"),
        ("yz", "f8"),
        ("sum_ab", "f8"),
        ("sum_ba", "f8"),
        ("sum_energy", "f8"),
        ("sum_vapour", "f8"),
        ("sum_fuel", "f8"),
        ("unsolved", "i8"),
    ]
)

RESERVOIR = np.dtype(
    [
        ("kind", "i8"),
        ("p", "f8"),
        ("T", "f8"),
        ("R", "f8"),
        ("gamma", "f8"),
        ("e", "f8"),
        ("yb", "f8"),
        ("yv", "f8"),
        ("yz", "f8"),
        ("volume", "f8"),
        ("mass", "f8"),
        ("energy", "f8"),
        ("burned", "f8"),
        ("vapour", "f8"),
        ("burned_fuel", "f8"),
        # what flows in during a step, per second
        ("in_mass", "f8"),
        ("in_energy", "f8"),
        ("in_b", "f8"),
        ("in_v", "f8"),
        ("in_z", "f8"),
        # atmosphere: the gas far away, and the mass of the mixed zone in front of the mouth
        ("far_T", "f8"),
        ("far_yv", "f8"),
        ("zone_mass", "f8"),
        ("kept", "f8"),
    ]
)

CYLINDER_DTYPE = np.dtype(
    [
        ("reservoir", "i8"),
        ("phase", "f8"),
        ("bore", "f8"),
        ("stroke", "f8"),
        ("rod", "f8"),
        ("compression_ratio", "f8"),
        ("wall", "f8"),
        ("heat_factor", "f8"),
        ("intake_closes", "f8"),
        ("exhaust_opens", "f8"),
        ("spark", "f8"),
        ("base_duration", "f8"),
        ("rich_cost", "f8"),
        ("rich_limit", "f8"),
        ("best_burn", "i8"),  # 1: burns as the best mixture would, whatever the mixture
        ("heating_value", "f8"),
        ("air_fuel_ratio", "f8"),
        ("octane", "f8"),
        ("rpm", "f8"),
        # the burn under way
        ("burning", "i8"),
        ("since", "f8"),
        ("done", "f8"),  # degrees since the spark, share burned
        ("duration", "f8"),
        ("complete", "f8"),
        ("starting", "i8"),  # above zero after a cycle whose misfires are forgotten
        ("fresh", "f8"),
        ("fresh_fuel", "f8"),
        ("heat_per_fuel", "f8"),
        ("spark_p", "f8"),
        ("spark_T", "f8"),
        ("squeeze", "f8"),
        ("induction", "f8"),  # exponent of end-gas temperature over pressure; way to self-ignition
        ("close_p", "f8"),
        ("close_T", "f8"),
        ("close_V", "f8"),
        # this step: heat of the burn, heat lost to the wall [J], volume after it
        ("step_heat", "f8"),
        ("step_lost", "f8"),
        ("next_volume", "f8"),
        # results of the cycle
        ("work", "f8"),
        ("pump_work", "f8"),
        ("wall_heat", "f8"),
        ("released", "f8"),
        ("p_max", "f8"),
        ("trapped", "f8"),
        ("trapped_air", "f8"),
        ("trapped_fuel", "f8"),
        ("residual", "f8"),
        ("knock", "f8"),
    ]
)

# one jet with its air bleed, well and outlet
CIRCUIT = np.dtype(
    [
        ("jet", "f8"),
        ("bleed", "f8"),
        ("outlet", "f8"),  # effective areas [m²]
        ("lip", "f8"),
        ("well_area", "f8"),
        ("column", "f8"),
        ("spill_time", "f8"),
        ("suction_share", "f8"),  # of the throat's suction that the outlet feels
        ("behind_share", "f8"),  # and of that behind the throttle
        ("enters_behind", "i8"),  # 1: its fuel enters the air behind the throttle
        ("flow", "f8"),
        ("level", "f8"),
        ("spill", "f8"),
        ("sum_fuel", "f8"),
        ("sum_air", "f8"),
        # emulsion tube (rows = 0: none): upper edge of every row over the fuel in the bowl [m], bore [m] and effective
        # area [m²] of its holes; cross-section [m²], fuel in it over the fuel in the bowl [m], time to follow [s]
        ("rows", "i8"),
        ("row_top", "f8", (TUBE_ROWS,)),
        ("row_bore", "f8", (TUBE_ROWS,)),
        ("row_area", "f8", (TUBE_ROWS,)),
        ("tube_area", "f8"),
        ("tube_level", "f8"),
        ("tube_time", "f8"),
    ]
)

CARBURETTOR = np.dtype(
    [
        ("cell", "i8"),
        ("area", "f8"),
        ("throat", "f8"),
        ("bowl", "i8"),
        ("on", "i8"),
        ("fuel_density", "f8"),
        ("fuel_h", "f8"),
        ("air_h", "f8"),
        ("air_density", "f8"),
        ("mean_metering", "i8"),
        ("mean_flow", "f8"),
        ("suction", "f8"),
        ("sum_forward", "f8"),
        ("sum_back", "f8"),
        ("sum_suction", "f8"),
        # throttle: first cell behind it and its joint, -1: wide open; bore there [m²], loss of the butterfly alone
        ("behind", "i8"),
        ("gate", "i8"),
        ("gate_area", "f8"),
        ("plate_loss", "f8"),
        # piston that suction lifts (moves = 1): lift [m] and speed [m/s], mass [kg], area of the diaphragm [m²],
        # force on it at rest [N] and over lift [N/m], damping over the speed's square [N s²/m²]
        ("moves", "i8"),
        ("lift", "f8"),
        ("lift_speed", "f8"),
        ("mass", "f8"),
        ("diaphragm", "f8"),
        ("weight", "f8"),
        ("spring_rate", "f8"),
        ("damping", "f8"),
        ("sum_lift", "f8"),
        # throat under the piston: bore [m] and discharge coefficient; needle and its jet as in `needle_annulus`
        ("bore", "f8"),
        ("throat_cd", "f8"),
        ("needle_jet", "f8"),
        ("needle", "f8"),
        ("needle_slope", "f8"),
        ("needle_straight", "f8"),
        ("needle_cd", "f8"),
        # film on the manifold's walls: share of the fuel, flow of it to the ports [kg/s], cylinders behind (0: no
        # film), last cell before each one's valve, its share, and cells of a port
        ("film_share", "f8"),
        ("film_flow", "f8"),
        ("fed", "i8"),
        ("film_cell", "i8", (MOST_FED,)),
        ("film_split", "f8", (MOST_FED,)),
        ("port_cells", "i8"),
        ("circuit", CIRCUIT, (2,)),
    ]
)

# a porous wall between a duct cell and a volume
LEAK = np.dtype(
    [
        ("cell", "i8"),
        ("room_cell", "i8"),  # cell of the room around it
        ("area", "f8"),  # [m2] of the holes
        ("resistance", "f8"),
        ("loss", "f8"),
        ("grazing", "f8"),
    ]
)

RUN = np.dtype(
    [
        ("rpm", "f8"),
        ("courant", "f8"),
        ("steps", "i8"),
        ("slots", "i8"),
        ("trace", "i8"),
        ("failed", "i8"),
        ("longest", "f8"),
    ]
)
