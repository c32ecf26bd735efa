"""Passes over the cells go tile by tile.

Fields of a case lie one behind the other, so a compiler knows that they do not overlap only where the length of a
loop is known to it. Loops over a tile are: they vectorise, end with the tile in which the cells end rather than with
the room that is kept for them, and find in the processor's nearest cache what the loop before has left there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba import types
from numba.extending import intrinsic

BYTES = 8  # of a number


def _shifted(_context: Any, c: Any, slots: Any) -> tuple[Any, Callable[..., Any]]:
    """The cells' record as it lies `slots` further on: its slot 0 is slot `slots` of `c`.

    Only fields over all slots are in their places there, up to slot `TILE` + 1.
    """

    def move(_target: Any, builder: Any, _signature: Any, values: Any) -> Any:
        record, count = values
        first = builder.bitcast(record, ir.IntType(8).as_pointer())
        way = builder.mul(count, ir.Constant(count.type, BYTES))
        return builder.bitcast(builder.gep(first, [way]), record.type)

    return c(c, types.intp), move


shifted: Any = intrinsic(_shifted)
