"""Starts of jobs on the card, drawn through the states of neighbouring speeds: as `simulate.warm_start`, many at once.

The states never leave the card: of every word of a job's tables it is known whether a cycle carries it into the
next, and how.
"""

from __future__ import annotations

from typing import Any

import numba.cuda
import numpy as np

from pulsewright.simulate import carried_state as carried

cuda: Any = numba.cuda
DRAWING = 128  # threads of a block, one block for each start
# How a word of a table is drawn: by weights, and then at least 0, or from 0 to 1; or as the nearest has it.
BY_WEIGHT, NOT_BELOW_ZERO, A_SHARE, AS_NEAREST = range(4)
CARRIED = {"cells": carried.GAS, **carried.TABLES}


def drawn_words(name: str, dtype: np.dtype, rows: int) -> np.ndarray:
    """Words of a job's row of a table that a cycle carries into the next. (words, 3): place, kind, 1: must hold"""
    words = [_words_of(dtype, f, name in ("cells", "reservoirs")) for f in CARRIED[name]]
    if name == "cylinders":
        words += [_words_of(dtype, f, False) for f in carried.WHOLE]
    if name == "carburettors":
        circuit, first = dtype.fields["circuit"][:2]  # type: ignore[index]
        inner = np.concatenate([_words_of(circuit.base, f, False) for f in carried.CIRCUIT])
        every = first // 8 + np.arange(circuit.shape[0]) * (circuit.base.itemsize // 8)
        words.append(_again(inner, every))
    return _again(np.concatenate(words), np.arange(rows) * (dtype.itemsize // 8))


def _again(words: np.ndarray, places: np.ndarray) -> np.ndarray:
    """The same words from each of these places on."""
    return np.concatenate([words + np.array([place, 0, 0]) for place in places])


def _words_of(dtype: np.dtype, field: str, gas: bool) -> np.ndarray:
    kind, first = dtype.fields[field][:2]  # type: ignore[index]
    how = NOT_BELOW_ZERO if field in carried.NEVER_BELOW_ZERO else BY_WEIGHT
    how = A_SHARE if field == "complete" else AS_NEAREST if field in carried.WHOLE else how
    must_hold = int(gas and field in (*carried.MUST_HOLD, "mass"))
    places = first // 8 + np.arange(kind.itemsize // 8)
    return np.stack([places, np.full_like(places, how), np.full_like(places, must_hold)], axis=1)


@cuda.jit
def judge(numbers, sources, weights, words, least, believed):
    """believed[t] = 0 where a drawn pressure, temperature, density or mass falls below `least` of the nearest one's."""
    t = cuda.blockIdx.x
    for k in range(cuda.threadIdx.x, words.shape[0], cuda.blockDim.x):
        if words[k, 2] == 1:
            place = words[k, 0]
            drawn = 0.0
            for n in range(sources.shape[1]):
                drawn += weights[t, n] * numbers[sources[t, n], place]
            nearest = numbers[sources[t, 0], place]
            if nearest > 0.0 and not drawn > least * nearest:
                believed[t] = 0


@cuda.jit
def draw(numbers, targets, sources, weights, words, believed):
    """Write the drawn state into the rows of the targets; where it is not believed, the nearest one's."""
    t = cuda.blockIdx.x
    for k in range(cuda.threadIdx.x, words.shape[0], cuda.blockDim.x):
        place, how = words[k, 0], words[k, 1]
        drawn = numbers[sources[t, 0], place]
        if how != AS_NEAREST and believed[t] == 1:
            drawn = 0.0
            for n in range(sources.shape[1]):
                drawn += weights[t, n] * numbers[sources[t, n], place]
            if how != BY_WEIGHT:
                drawn = max(drawn, 0.0)
            if how == A_SHARE:
                drawn = min(drawn, 1.0)
        numbers[targets[t], place] = drawn
