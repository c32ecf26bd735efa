"""Division, root, logarithm, exponential and power of doubles on a card, without branches.

The compiler's own take care of denormal and infinite numbers and of the last bit. That is a branch and a call for
every division: half of a march's instructions, more than the card's memory for instructions holds at once. These
are a first guess by the card and a few products, right to a few units in the last place.

Holds    normal numbers, exponents up to 700. A quotient by zero or by infinity is not a number, which the march
         takes for a lost cell.
"""

from __future__ import annotations

import math
import operator
from typing import Any

import numba
from llvmlite import ir
from numba import types
from numba.cuda.extending import lower_builtin  # pyright: ignore[reportAttributeAccessIssue]  # comes with the extra

from pulsewright.physics.packed_logarithm import MOST_EXPONENT, packed_exp, packed_log

DOUBLE = ir.DoubleType()
ONE, ZERO = ir.Constant(DOUBLE, 1.0), ir.Constant(DOUBLE, 0.0)


def _call(builder: Any, name: str, *numbers: Any) -> Any:
    kind = ir.FunctionType(DOUBLE, [DOUBLE] * len(numbers))
    return builder.call(builder.module.globals.get(name) or ir.Function(builder.module, kind, name), numbers)


def _fused(builder: Any, a: Any, b: Any, c: Any) -> Any:
    """a b + c, rounded once."""
    return _call(builder, "llvm.fma.f64", a, b, c)


def _minus(builder: Any, x: Any) -> Any:
    return builder.fsub(ir.Constant(DOUBLE, -0.0), x)


def rough_reciprocal(builder: Any, x: Any) -> Any:
    """The card's guess of 1 / x, right to about 20 bits."""
    return _call(builder, "llvm.nvvm.rcp.approx.ftz.d", x)


def rough_root_reciprocal(builder: Any, x: Any) -> Any:
    """The card's guess of 1 / sqrt(x), right to about 20 bits."""
    guess = ir.InlineAsm(ir.FunctionType(DOUBLE, [DOUBLE]), "rsqrt.approx.ftz.f64 $0, $1;", "=d,d")
    return builder.call(guess, (x,))


def reciprocal(builder: Any, x: Any) -> Any:
    """1 / x: one step of third order makes 60 bits of 20."""
    guess = rough_reciprocal(builder, x)
    miss = _fused(builder, _minus(builder, x), guess, ONE)
    return _fused(builder, guess, _fused(builder, miss, miss, miss), guess)


def quotient(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    return builder.fmul(args[0], reciprocal(builder, args[1]))


def root(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    """x / sqrt(x), by one step of third order; 0 at 0."""
    (x,) = args
    guess = rough_root_reciprocal(builder, x)
    rough = builder.fmul(x, guess)
    miss = _fused(builder, _minus(builder, rough), guess, ONE)
    third = _fused(builder, miss, ir.Constant(DOUBLE, 0.375), ir.Constant(DOUBLE, 0.5))
    found = _fused(builder, builder.fmul(rough, miss), third, rough)
    return builder.select(builder.fcmp_ordered("==", x, ZERO), ZERO, found)


def _as_function(function: Any) -> Any:
    def lowered(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return context.compile_internal(builder, function, sig, args)

    return lowered


@numba.njit(forceinline=True)
def _exponential(x):
    """Next to nothing below what the series holds for: a wrapped exponent could make it anything."""
    return packed_exp(-MOST_EXPONENT if x < -MOST_EXPONENT else x)


def _power(base, exponent):
    """Of a base that is not negative; next to nothing at 0."""
    return _exponential(exponent * packed_log(base))


def use_quick_arithmetic() -> None:
    """From now on what is compiled for the card uses these."""
    double = types.float64
    for sign in (operator.truediv, operator.itruediv):
        lower_builtin(sign, double, double)(quotient)
    lower_builtin(math.sqrt, double)(root)
    lower_builtin(math.log, double)(_as_function(lambda x: packed_log(x)))
    lower_builtin(math.exp, double)(_as_function(lambda x: _exponential(x)))
    lower_builtin(operator.pow, double, double)(_as_function(_power))
