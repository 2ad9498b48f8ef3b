"""The bit pattern of a number, for what would else stop a loop from vectorising."""

import numpy as np
from numba import types
from numba.extending import intrinsic, overload

from aircolumn.flow.compiled import seam
from aircolumn.flow.compiled.decorators import inlined


def bits_of(value):
    """The 64 bits of a number as a whole number."""
    return np.float64(value).view(np.int64)


def from_bits(bits):
    """The number with these 64 bits."""
    return np.int64(bits).view(np.float64)


if seam.VIEWS:

    @intrinsic
    def _bits_of(typingctx, value):
        def build(context, builder, signature, args):
            return builder.bitcast(args[0], seam.ir.IntType(64))

        return types.int64(types.float64), build

    @intrinsic
    def _from_bits(typingctx, bits):
        def build(context, builder, signature, args):
            return builder.bitcast(args[0], seam.ir.DoubleType())

        return types.float64(types.int64), build

    @overload(bits_of)
    def _compiled_bits_of(value):
        return lambda value: _bits_of(value)

    @overload(from_bits)
    def _compiled_from_bits(bits):
        return lambda bits: _from_bits(bits)


@inlined
def rank(x):
    """Whole number that orders like ``x`` >= 0, with NaN above all: the bits without their sign."""
    return bits_of(x) & 0x7FFFFFFFFFFFFFFF


@inlined
def log2(x):
    """Base-2 logarithm of a positive normal number to 2e-7.

    A library call would stop the cell loop from vectorising. Exponent bits plus the series
    2/ln 2 (z + z^3/3 + z^5/5 + z^7/7), z = (m - 1)/(m + 1), of the mantissa m in [0.71, 1.42).
    """
    bits = bits_of(x) - 4604544271217802189  # bits of sqrt(1/2)
    exponent = bits >> 52
    m = from_bits((bits & 4503599627370495) + 4604544271217802189)
    z = (m - 1.0) / (m + 1.0)
    z2 = z * z
    series = z * (1.0 + z2 * (1.0 / 3.0 + z2 * (0.2 + z2 * (1.0 / 7.0))))
    return exponent + 2.885390081777927 * series
