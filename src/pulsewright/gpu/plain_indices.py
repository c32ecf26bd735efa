"""Indices and slices of arrays on a card as they are: none counted from the end, none cut off at it.

Python allows both, which costs up to seven instructions at every access to one of the sixty fields of a cell. The
kernels that a card runs use neither, and give both ends of a slice.
"""

from __future__ import annotations

import operator
from typing import Any

from numba import types
from numba.cuda.extending import lower_builtin  # pyright: ignore[reportAttributeAccessIssue]  # comes with the extra


def _unsigned(sign: Any) -> Any:
    """An access to an array by a signed index, as the one by an unsigned index does it."""

    def lowered(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        array, _index, *value = sig.args
        access = context.get_function(sign, sig.return_type(array, types.uintp, *value))
        return access(builder, args)

    return lowered


def _stretch(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    """array[first : behind the last] of rows that lie one behind the other."""
    kind, slice_kind = sig.args
    array = context.make_array(kind)(context, builder, args[0])
    wanted = context.make_helper(builder, slice_kind, value=args[1])
    rows = builder.sub(wanted.stop, wanted.start)
    first, numbers = wanted.start, rows
    for dimension in range(1, kind.ndim):
        width = builder.extract_value(array.shape, dimension)
        first, numbers = builder.mul(first, width), builder.mul(numbers, width)
    found = context.make_array(sig.return_type)(context, builder)
    found.data = builder.gep(array.data, [first])
    found.shape = builder.insert_value(array.shape, rows, 0)
    found.nitems = numbers
    for name in ("strides", "itemsize", "meminfo", "parent"):
        setattr(found, name, getattr(array, name))
    return found._getvalue()


def use_plain_indices() -> None:
    """From now on what is compiled for the card uses these."""
    lower_builtin(operator.getitem, types.Array, types.slice2_type)(_stretch)
    lower_builtin(operator.getitem, types.Array, types.int64)(_unsigned(operator.getitem))
    lower_builtin(operator.setitem, types.Array, types.int64, types.Any)(_unsigned(operator.setitem))
