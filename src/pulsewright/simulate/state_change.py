"""How much a case changes from the start of a cycle to its end, in numbers that can be compared and added."""

from __future__ import annotations

import numpy as np

from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import CYLINDER, GAS, PISTON, ROOM, CarriedState, Floats

# What a change is measured by: one unit of each counts the same.
GAS_UNITS = {"p": 1e5, "u": 100.0, "T": 800.0, "yb": 1.0, "yv": 0.1, "wall": 300.0}
CYLINDER_UNITS = {"p": 5e6, "T": 1000.0, "yb": 1.0, "yv": 0.1}
CYLINDER_SHARE = 0.3  # of the weight of all ducts together, for each cylinder

GAS_ROWS = [GAS.index(f) for f in GAS_UNITS]
GAS_SCALE = 1.0 / np.array(list(GAS_UNITS.values()))[:, None]
ROOM_COLUMNS = [ROOM.index(f) for f in CYLINDER_UNITS]
ROOM_SCALE = CYLINDER_SHARE / np.array(list(CYLINDER_UNITS.values()))
COMPLETE = CYLINDER.index("complete")
LIFT = PISTON.index("lift")
PISTON_SHARE = 0.3  # of the weight of all ducts together, for each piston that suction lifts, over its whole lift


class ChangeScale:
    """Weighs the gas of every cell by its volume, and the cylinders and pistons of carburettors beside it."""

    def __init__(self, case: Case) -> None:
        inverse = case.arrays["cells"]["inverse_volume"][0]
        volume = np.divide(1.0, inverse, out=np.zeros_like(inverse), where=inverse > 0.0)
        self._weight = np.sqrt(volume / np.sum(volume)) * GAS_SCALE
        self._rooms = case.arrays["cylinders"]["reservoir"]
        carburettors = case.arrays["carburettors"]
        self._pistons = carburettors["moves"] == 1
        self._per_lift = PISTON_SHARE / carburettors["bore"][self._pistons]

    def change(self, before: CarriedState, after: CarriedState) -> Floats:
        """Weighed differences, no unit; their norm is the size of the change. (numbers,)"""
        gas = (after.gas[GAS_ROWS] - before.gas[GAS_ROWS]) * self._weight
        rooms = after.tables["reservoirs"][self._rooms] - before.tables["reservoirs"][self._rooms]
        complete = after.tables["cylinders"][:, COMPLETE] - before.tables["cylinders"][:, COMPLETE]
        lift = after.tables["carburettors"][:, LIFT] - before.tables["carburettors"][:, LIFT]
        pistons = lift[self._pistons] * self._per_lift
        return np.concatenate([gas.ravel(), (rooms[:, ROOM_COLUMNS] * ROOM_SCALE).ravel(), complete, pistons])
