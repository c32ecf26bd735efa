"""How much a case changes from the start of a cycle to its end, in numbers that can be compared and added.

They are weighed by what torque and mixture feel of a change that lasts: much of fuel and heat in the gas, little of
waves that die away and of walls that warm up.
"""

from __future__ import annotations

import numpy as np

from pulsewright.kernel.layout import VOLUME
from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import CYLINDER, GAS, PISTON, ROOM, CarriedState, Floats

# What moves torque by about as much as itself, so that one unit of each counts the same. From a study of 1,325 speeds
# of random sheets and of every part: the least weights that leave no speed unseen, rounded; waves count for more than
# that, since the first cycle from a drawn start still holds them. Regression values.
GAS_UNITS = {"p": 3e5, "u": 300.0, "T": 2500.0, "yb": 3.0, "yv": 0.025, "wall": 3000.0}
CYLINDER_UNITS = {"p": 3e7, "T": 6000.0, "yb": 6.0, "yv": 0.2}
BOX_UNITS = {f: GAS_UNITS[f] for f in CYLINDER_UNITS}

GAS_ROWS = [GAS.index(f) for f in GAS_UNITS]
GAS_SCALE = 1.0 / np.array(list(GAS_UNITS.values()))[:, None]
BOX_COLUMNS = [ROOM.index(f) for f in BOX_UNITS]
BOX_SCALE = 1.0 / np.array(list(BOX_UNITS.values()))
CYLINDER_COLUMNS = [ROOM.index(f) for f in CYLINDER_UNITS]
CYLINDER_SCALE = 1.0 / np.array(list(CYLINDER_UNITS.values()))
COMPLETE = CYLINDER.index("complete")
LIFT = PISTON.index("lift")
PISTON_SHARE = 0.3  # of the weight of all ducts together, for each piston that suction lifts, over its whole lift


class ChangeScale:
    """Weighs the gas of every cell and room by its volume, and cylinders and pistons of carburettors beside them."""

    def __init__(self, case: Case) -> None:
        inverse = case.arrays["cells"]["inverse_volume"][0]
        volume = np.divide(1.0, inverse, out=np.zeros_like(inverse), where=inverse > 0.0)
        self._gas = np.sqrt(volume / np.sum(volume)) * GAS_SCALE
        rooms = case.arrays["reservoirs"]
        self._boxes = np.flatnonzero(rooms["kind"] == VOLUME)
        self._box = np.sqrt(rooms["volume"][self._boxes] / np.sum(volume))[:, None] * BOX_SCALE
        self._cylinders = case.arrays["cylinders"]["reservoir"]
        carburettors = case.arrays["carburettors"]
        self._pistons = carburettors["moves"] == 1
        self._per_lift = PISTON_SHARE / carburettors["bore"][self._pistons]

    def change(self, before: CarriedState, after: CarriedState) -> Floats:
        """Weighed differences, no unit; their norm is about the share of torque that they move. (numbers,)"""
        gas = (after.gas[GAS_ROWS] - before.gas[GAS_ROWS]) * self._gas
        moved = {name: after.tables[name] - before.tables[name] for name in after.tables}
        boxes = moved["reservoirs"][self._boxes][:, BOX_COLUMNS] * self._box
        cylinders = moved["reservoirs"][self._cylinders][:, CYLINDER_COLUMNS] * CYLINDER_SCALE
        complete = moved["cylinders"][:, COMPLETE]
        pistons = moved["carburettors"][self._pistons, LIFT] * self._per_lift
        return np.concatenate([gas.ravel(), boxes.ravel(), cylinders.ravel(), complete, pistons])
