"""Run by a test in a process of its own: the card's arithmetic and indices, compiled for the processor.

The card's own guesses of 1 / x and 1 / sqrt(x) are stood in for by right ones cut to the 20 bits that it promises.
"""

import math
import sys
import types
from typing import Any

import numba.core.imputils
import numpy as np
from llvmlite import ir
from numba import njit

extending: Any = types.ModuleType("numba.cuda.extending")
extending.lower_builtin = numba.core.imputils.lower_builtin
sys.modules["numba.cuda.extending"] = extending

from pulsewright.gpu import plain_indices, quick_arithmetic  # noqa: E402

KEPT_BITS = 20
FEW_ULPS = 4 * np.finfo(float).eps
ROW = np.dtype([("number", "f8"), ("count", "i8"), ("three", "f8", (3,))], align=True)


def cut(builder: Any, x: Any) -> Any:
    """Without the last bits of its fraction."""
    word = ir.IntType(64)
    mask = ir.Constant(word, -1 << (52 - KEPT_BITS))
    return builder.bitcast(builder.and_(builder.bitcast(x, word), mask), ir.DoubleType())


def rough_reciprocal(builder: Any, x: Any) -> Any:
    return cut(builder, builder.fdiv(quick_arithmetic.ONE, x))


def rough_root_reciprocal(builder: Any, x: Any) -> Any:
    root = quick_arithmetic._call(builder, "llvm.sqrt.f64", x)
    return cut(builder, builder.fdiv(quick_arithmetic.ONE, root))


quick_arithmetic.rough_reciprocal = rough_reciprocal
quick_arithmetic.rough_root_reciprocal = rough_root_reciprocal
quick_arithmetic.use_quick_arithmetic()
plain_indices.use_plain_indices()


@njit(error_model="numpy")
def all_five(x, y):
    return x / y, math.sqrt(x), math.log(x), math.exp(y), x**y


@njit(error_model="numpy")
def views(numbers, table, rows, k):
    """Written to and read from through a stretch of each."""
    some, lines, records = numbers[k : k + 3], table[k : k + 2], rows[k : k + 2]
    some[1] = 7.5
    lines[0, 1] = 9
    records[1].number = 3.5
    records[0].three[2] = 4.25
    return some[0] + some[2], some.shape[0], lines.shape[0], lines.shape[1], lines.size, lines[1, 2], records[1].count


def check_numbers() -> None:
    rng = np.random.default_rng(5)
    for x, y in zip(10.0 ** rng.uniform(-9.0, 9.0, 2000), rng.uniform(-20.0, 20.0, 2000), strict=True):
        found = all_five(float(x), float(y))
        expected = x / y, math.sqrt(x), math.log(x), math.exp(y), x**y
        loss = 1.0, 1.0, 2.0, 1.0 + abs(y), 1.0 + abs(y * math.log(x))  # of rounding in what is raised
        for a, b, factor in zip(found, expected, loss, strict=True):
            assert abs(a - b) <= factor * FEW_ULPS * abs(b), (x, y, a, b)
    assert all_five(0.25, 0.5)[0] == 0.5
    assert all_five(0.0, 1.0)[:2] == (0.0, 0.0)
    for exponent in (0.5, 3.0, 3.51, 40.0):
        assert 0.0 <= all_five(0.0, exponent)[4] < 1e-100
    assert 0.0 <= all_five(1.0, -2000.0)[3] < 1e-300
    assert all(math.isnan(number) for number in all_five(math.nan, math.nan)[:2])


def check_views() -> None:
    numbers, table, rows = np.arange(10.0), np.arange(30).reshape(10, 3), np.zeros(10, dtype=ROW)
    rows["count"] = np.arange(10)
    assert views(numbers, table, rows, 4) == (10.0, 3, 2, 3, 6, 17, 5)
    assert numbers[5] == 7.5
    assert table[4, 1] == 9
    assert rows[5]["number"] == 3.5
    assert rows[4]["three"][2] == 4.25


check_numbers()
print("numbers")
check_views()
print("views")
