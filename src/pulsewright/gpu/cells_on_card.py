"""The cells of a case as a block of threads sees them: what changes in every step lies in shared memory.

The functions of `kernel` take any `c` whose fields have the names of `kernel.layout.FIELDS`. Here that is a
tuple of arrays: the fields in `SHARED` point into the block's own fast memory, all others into the case's
record in the memory of the card. The three functions below are written out from the list of fields.
"""

from __future__ import annotations

from collections import namedtuple
from typing import Any

import numba

from pulsewright.kernel.layout import FIELDS

SCALARS = ("gas_constant", "gas_energy", "correct_fuel", "rich_fuel")
# Rewritten in every step. What the next cycle starts from is carried to the record and back, the rest is not.
CARRIED = (
    "rho", "momentum", "energy", "burned", "vapour", "burned_fuel",
    "u", "p", "T", "R", "cp", "gamma", "sound", "e", "yb", "yv", "yz", "speed",
)  # fmt: skip
SHARED = (*CARRIED, *(name for name in FIELDS if name.startswith(("left_", "right_", "flow_"))))
Cells = namedtuple("Cells", (*FIELDS, *SCALARS))


def _written_out(name: str, arguments: str, lines: list[str]) -> Any:
    source = f"def {name}({arguments}):\n" + "".join(f"    {line}\n" for line in lines)
    room: dict[str, Any] = {"Cells": Cells}
    exec(compile(source, f"<{name}>", "exec"), room)
    return numba.njit(forceinline=True)(room[name])


def _place(name: str) -> str:
    if name not in SHARED:
        return f"record.{name}"
    k = SHARED.index(name)
    return f"shared[{k} * n : {k + 1} * n]"


view_cells = _written_out(
    "view_cells", "shared, record, n", [f"return Cells({', '.join(_place(name) for name in Cells._fields)})"]
)
load_cell = _written_out("load_cell", "c, record, i", [f"c.{name}[i] = record.{name}[i]" for name in CARRIED])
store_cell = _written_out("store_cell", "c, record, i", [f"record.{name}[i] = c.{name}[i]" for name in CARRIED])


def shared_numbers(capacity: int) -> int:
    """Numbers of 8 bytes that a case of this capacity needs in shared memory."""
    return len(SHARED) * capacity
