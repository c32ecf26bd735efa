"""A perforated tube and the room around it: a second duct, closed at both ends, joined hole by hole."""

from __future__ import annotations

import math

from pulsewright.network.assembly import WALL_KINDS, Assembly, DuctRef, GasState, Segment
from pulsewright.physics.packing import resistivity, softer_spring, way_through

HOLE_LOSS = 2.6  # [-] on the dynamic head in the hole, thin plate: 1 / 0.62^2
GRAZING = 0.53  # [-] Rao and Munjal 1986 (from memory), see `kernel.porous_walls`
ROOM_WALL = 500.0  # [K] first guess of the body
LEAST_GAP = 1.0e-3  # [m] between core and body


def add_room(
    assembly: Assembly, tube: DuctRef, length: float, outer_bore: float, open_share: float, fibre: float, gas: GasState
) -> DuctRef:
    """Lay the room around a straight tube of `length` [m] and open the holes between them.

    outer_bore : of the body [m]; open_share : holes over the tube's wall [-]; fibre : share of a new packing that is
    left, 0 for an empty room; gas : what the room starts with.
    """
    core, count = float(tube.bores[0]), len(tube.cells)
    outer = max(outer_bore, core + 2.0 * LEAST_GAP)
    spring = softer_spring(fibre)
    bore = math.sqrt(spring * (outer * outer - core * core))
    room = assembly.add_duct(
        [
            Segment(
                length=length, bore_in=bore, bore_out=bore, cell=length / count, wall=WALL_KINDS["single"],
                wall_temperature=ROOM_WALL, drag=spring * resistivity(fibre),
            )
        ],
        gas,
    )  # fmt: skip
    assembly.close(room.head)
    assembly.close(room.tail)
    holes = open_share * math.pi * core * length / count
    resistance = resistivity(fibre) * way_through(core, outer, open_share)
    for cell, room_cell in zip(tube.cells, room.cells, strict=True):
        assembly.leaks.append(
            {
                "cell": cell, "room_cell": room_cell, "area": holes, "resistance": resistance, "loss": HOLE_LOSS,
                "grazing": GRAZING,
            }
        )  # fmt: skip
    return room
