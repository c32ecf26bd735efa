"""The small tables of a case in a block's fast memory: joints, reservoirs, cylinders and carburettors.

They are read and rewritten in every step by a thread or two, which would wait for the memory of the card each
time. A table begins at a whole number of its own rows, so that it can be seen as an array of its records.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numba.cuda
import numpy as np

from pulsewright.kernel.layout import CARBURETTOR, CYLINDER_DTYPE, JOINT, RESERVOIR

cuda: Any = numba.cuda
WORD = np.dtype(np.int64)  # tables travel as words of 8 bytes
TABLES = ("joints", "reservoirs", "cylinders", "carburettors")


def aligned(dtype: np.dtype) -> np.dtype:
    """The same record with its fields declared to lie on whole words: else the card reads them byte by byte."""
    if dtype.names is None:
        return dtype
    fields = [(name, aligned(dtype[name].base), dtype[name].shape) for name in dtype.names]
    return np.dtype(fields, align=True)


JOINT_ROW, RESERVOIR_ROW, CYLINDER_ROW, CARBURETTOR_ROW = (
    aligned(row) for row in (JOINT, RESERVOIR, CYLINDER_DTYPE, CARBURETTOR)
)
ROWS = (JOINT_ROW, RESERVOIR_ROW, CYLINDER_ROW, CARBURETTOR_ROW)


def places_of(counts: Sequence[int], begin: int) -> tuple[np.ndarray, int]:
    """First row of every table behind `begin` bytes, for these most rows, and the bytes that all need. (4,)"""
    places, end = [], begin
    for count, row in zip(counts, ROWS, strict=True):
        first = -(-end // row.itemsize)
        places.append(first)
        end = (first + count) * row.itemsize
    return np.array(places, dtype=np.int64), end


@cuda.jit(device=True)
def load_words(source, first, thread, threads):
    """Lay a row of words from the memory of the card into the block's, from word `first` on."""
    words = cuda.shared.array(0, numba.int64)
    for k in range(thread, source.shape[0], threads):
        words[first + k] = source[k]


@cuda.jit(device=True)
def store_words(target, first, thread, threads):
    """And back."""
    words = cuda.shared.array(0, numba.int64)
    for k in range(thread, target.shape[0], threads):
        target[k] = words[first + k]
