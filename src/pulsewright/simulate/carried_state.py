"""What a case carries from one cycle to the next, and how it is laid into another case of the same engine.

The other case may have longer or shorter cells, another speed or a slightly different pipe: ducts are
matched one by one, and along each the gas is read off at the same share of its length.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pulsewright.network.case import Case

Floats = NDArray[np.float64]

# Everything else in the kernel's arrays is geometry, a setting, or made anew within a step or a cycle.
GAS = (
    "rho", "momentum", "energy", "burned", "vapour", "burned_fuel",
    "u", "p", "T", "R", "cp", "gamma", "sound", "e", "yb", "yv", "yz", "speed", "friction", "heat", "wall",
)  # fmt: skip
ROOM = ("p", "T", "R", "gamma", "e", "yb", "yv", "yz", "mass", "energy", "burned", "vapour", "burned_fuel")
JOINT = ("mass_speed", "mean_speed", "guess_a", "guess_b")
CYLINDER = (
    "since", "done", "duration", "complete", "fresh", "fresh_fuel", "heat_per_fuel", "spark_p", "spark_T", "squeeze",
    "induction", "close_p", "close_T", "close_V",
)  # fmt: skip
WHOLE = ("burning", "starting")  # whole numbers of the cylinders: copied, never mixed
CIRCUIT = ("flow", "level", "spill", "tube_level")
PISTON = (
    "mean_flow",
    "suction",
    "lift",
    "lift_speed",
    "film_flow",
)  # the lift of a slide on a cable is a setting, not here
TABLES = {"reservoirs": ROOM, "joints": JOINT, "cylinders": CYLINDER, "carburettors": PISTON}

NEVER_BELOW_ZERO = (
    "burned", "vapour", "burned_fuel", "yb", "yv", "yz", "friction", "heat", "spill", "film_flow",
)  # fmt: skip
MUST_HOLD = ("rho", "p", "T")
LEAST_SHARE = 0.3  # of its value before: a pressure, temperature or density that falls further is not believed


@dataclass(frozen=True, slots=True)
class CarriedState:
    """One moment of a case, at the start of a cycle."""

    gas: Floats  # (fields of GAS, slots)
    tables: dict[str, Floats]  # (rows, fields)
    whole: NDArray[np.int64]  # (fields of WHOLE, cylinders)


def carried_state(case: Case) -> CarriedState:
    """A copy of what `case` carries into its next cycle."""
    a = case.arrays
    tables = {name: np.stack([a[name][f] for f in fields], axis=1) for name, fields in TABLES.items()}
    circuits = a["carburettors"]["circuit"]
    tables["circuits"] = np.stack([circuits[f].ravel() for f in CIRCUIT], axis=1)
    gas = np.stack([a["cells"][f][0] for f in GAS])
    whole = np.stack([a["cylinders"][f] for f in WHOLE])
    return CarriedState(gas, tables, whole)


def lay_state(case: Case, state: CarriedState) -> None:
    """Let `case` go on from `state`, which has its layout; walls of given temperature keep it."""
    a = case.arrays
    free = a["skin"]["kind"] >= 0
    for row, f in zip(state.gas, GAS, strict=True):
        a["cells"][f][0] = np.where(free, row, a["cells"][f][0]) if f == "wall" else row
    for name, fields in TABLES.items():
        for column, f in zip(state.tables[name].T, fields, strict=True):
            a[name][f] = column
    circuits = a["carburettors"]["circuit"]
    for column, f in zip(state.tables["circuits"].T, CIRCUIT, strict=True):
        circuits[f] = column.reshape(circuits.shape)
    for row, f in zip(state.whole, WHOLE, strict=True):
        a["cylinders"][f] = row


def same_tables(a: CarriedState, b: CarriedState) -> bool:
    """True where both come from one arrangement of ducts, rooms and joints, whatever their cells."""
    return all(a.tables[name].shape == b.tables[name].shape for name in a.tables)


@dataclass(frozen=True, slots=True)
class CellMap:
    """Where the gas of every slot of one case is read off between two neighbouring slots of another."""

    before: NDArray[np.int64]  # (slots,) the first of the two
    share: Floats  # (slots,) of the second
    inside: NDArray[np.bool_]  # (slots,) whether in a duct at all

    def read(self, gas: Floats) -> Floats:
        """Gas of the other case on these slots, (fields, slots); of no meaning outside ducts."""
        return gas[:, self.before] + self.share * (gas[:, self.before + 1] - gas[:, self.before])


def plus(state: CarriedState, share: float, later: CarriedState, earlier: CarriedState) -> CarriedState:
    """`state` and a share of the way from `earlier` to `later`, all of one case."""
    gas = state.gas + share * (later.gas - earlier.gas)
    tables = {name: state.tables[name] + share * (later.tables[name] - earlier.tables[name]) for name in state.tables}
    return CarriedState(gas, tables, state.whole)


def believable(state: CarriedState, before: CarriedState) -> bool:
    """False where gas of `state` has lost more than can be believed of what it was `before`."""
    gas = [GAS.index(f) for f in MUST_HOLD]
    room = [ROOM.index(f) for f in (*MUST_HOLD[1:], "mass")]
    old, new = before.tables["reservoirs"][:, room], state.tables["reservoirs"][:, room]
    return bool(np.all(state.gas[gas] > LEAST_SHARE * before.gas[gas]) and np.all(new > LEAST_SHARE * old))


def clip(state: CarriedState) -> None:
    """Put what a sum of states has driven past its limits back to them."""
    tables = {"reservoirs": ROOM, "carburettors": PISTON, "circuits": CIRCUIT}
    for table, fields in ((state.gas, GAS), *((state.tables[name].T, f) for name, f in tables.items())):
        for row, f in zip(table, fields, strict=True):
            if f in NEVER_BELOW_ZERO:
                np.maximum(row, 0.0, out=row)
    complete = state.tables["cylinders"][:, CYLINDER.index("complete")]
    np.clip(complete, 0.0, 1.0, out=complete)


def read_off(fresh: CarriedState, other: CarriedState, onto: CellMap) -> CarriedState:
    """State of another case on the cells of `fresh`, whose slots outside all ducts stay as they are."""
    return CarriedState(np.where(onto.inside, onto.read(other.gas), fresh.gas), other.tables, other.whole)


def cell_map(other: Case, case: Case) -> CellMap | None:
    """How `case` reads off the gas of `other`; None where their ducts do not pair."""
    theirs, ours = _ducts(other), _ducts(case)
    if len(theirs) != len(ours):
        return None
    slots = case.arrays["cells"]["rho"].shape[1]
    onto = CellMap(np.zeros(slots, np.int64), np.zeros(slots), np.zeros(slots, bool))
    for there, here in zip(theirs, ours, strict=True):
        at, known = _places(case, here), _places(other, there)
        n = np.clip(np.searchsorted(known, at) - 1, 0, known.size - 2)
        where = slice(here[0] - 1, here[1] + 2)
        onto.before[where] = there[0] - 1 + n
        onto.share[where] = np.clip((at - known[n]) / (known[n + 1] - known[n]), 0.0, 1.0)
        onto.inside[where] = True
    return onto


def _ducts(case: Case) -> list[tuple[int, int]]:
    """First and last cell of every duct."""
    cells = case.arrays["ends"][:, 1]
    return [(int(head), int(tail)) for head, tail in zip(cells[::2], cells[1::2], strict=True)]


def _places(case: Case, duct: tuple[int, int]) -> Floats:
    """Middles of a duct's cells as shares of its length, with those of its ghosts mirrored at the ends."""
    lengths = 1.0 / case.arrays["cells"]["inverse_length"][0, duct[0] : duct[1] + 1]
    middle = (np.cumsum(lengths) - 0.5 * lengths) / np.sum(lengths)
    return np.concatenate([[-middle[0]], middle, [2.0 - middle[-1]]])
