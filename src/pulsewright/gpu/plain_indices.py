"""Indices into arrays on a card as they are, none of them counted from the end.

Python's negative indices cost two instructions at every access, for each of the hundred fields of a cell. The
kernels use none.
"""

from __future__ import annotations

import operator
from typing import Any

from numba import types
from numba.cuda.extending import lower_builtin  # pyright: ignore[reportMissingImports]  # comes with the extra


def _unsigned(sign: Any) -> Any:
    """An access to an array by a signed index, as the one by an unsigned index does it."""

    def lowered(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        array, _index, *value = sig.args
        access = context.get_function(sign, sig.return_type(array, types.uintp, *value))
        return access(builder, args)

    return lowered


def use_plain_indices() -> None:
    """From now on what is compiled for the card uses these."""
    lower_builtin(operator.getitem, types.Array, types.int64)(_unsigned(operator.getitem))
    lower_builtin(operator.setitem, types.Array, types.int64, types.Any)(_unsigned(operator.setitem))
