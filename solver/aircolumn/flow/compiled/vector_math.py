"""The bit pattern of a number, for what would else stop a loop from vectorising."""

import numpy as np

from aircolumn.flow.compiled.decorators import inlined
from aircolumn.flow.compiled.views import BothWays


def _bits(value):
    return np.float64(value).view(np.int64)


def _number(bits):
    return np.int64(bits).view(np.float64)


def _intrinsic(name):
    """Of intrinsics.py, when something is compiled."""

    def build():
        from aircolumn.flow.compiled import intrinsics

        return getattr(intrinsics, name)

    return build


#: The 64 bits of a number as a whole number, and the number with these bits.
bits_of, from_bits = BothWays(_bits, _intrinsic("bits_of")), BothWays(_number, _intrinsic("from_bits"))


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
