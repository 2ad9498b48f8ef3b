"""Wall friction and wall heat transfer of turbulent and laminar duct flow.

Friction: tau_w = f rho u |u| / 2 with the Fanning factor f; momentum loses 2 f u |u| / D per unit
mass. Laminar f = 16/Re; turbulent from Haaland, J. Fluids Eng. 105 (1983):

    1/sqrt(4 f) = -1.8 log10[ (k/(3.7 D))^1.11 + 6.9/Re ]

blended between Re 2000 and 4000, linearly in 1/Re. Heat: Reynolds-Colburn analogy St Pr^(2/3) = f/2
(Colburn 1933), Pr = 0.71, so q per volume = (2 f/D) Pr^(-2/3) rho |u| cp (T_w - T).
Both are steady correlations applied at each instant; pulsating flow is known to exceed them.
"""

from llvmlite import ir
from numba import types
from numba.extending import intrinsic

from aircolumn.compiled import small

COLBURN = 0.71 ** (-2.0 / 3.0)


@intrinsic
def _bits_of(typingctx, value):
    def build(context, builder, signature, args):
        return builder.bitcast(args[0], ir.IntType(64))

    return types.int64(types.float64), build


@intrinsic
def _from_bits(typingctx, value):
    def build(context, builder, signature, args):
        return builder.bitcast(args[0], ir.DoubleType())

    return types.float64(types.int64), build


@small
def log2(x):
    """Base-2 logarithm of a positive normal number to 2e-7.

    A library call would stop the cell loop from vectorising. Exponent bits plus the series
    2/ln 2 (z + z^3/3 + z^5/5 + z^7/7), z = (m - 1)/(m + 1), of the mantissa m in [0.71, 1.42).
    """
    bits = _bits_of(x) - 4604544271217802189  # bits of sqrt(1/2)
    exponent = bits >> 52
    m = _from_bits((bits & 4503599627370495) + 4604544271217802189)
    z = (m - 1.0) / (m + 1.0)
    z2 = z * z
    series = z * (1.0 + z2 * (1.0 / 3.0 + z2 * (0.2 + z2 * (1.0 / 7.0))))
    return exponent + 2.885390081777927 * series


@small
def rough_term(relative_roughness):
    """The roughness part of Haaland's formula, (k/(3.7 D))^1.11."""
    return (relative_roughness / 3.7) ** 1.11


@small
def fanning(inverse_reynolds, roughness_term):
    """Fanning friction factor from 1/Re; ``roughness_term`` from :func:`rough_term`."""
    inverse = min(inverse_reynolds, 0.1)
    root = 0.541854 * log2(roughness_term + min(6.9 * inverse, 0.069))  # 1.8 log10(2)
    turbulent = 0.25 / (root * root)
    laminar = 16.0 * inverse
    share = min(max(2.0 - 4000.0 * inverse, 0.0), 1.0)
    return laminar + share * (turbulent - laminar)


@small
def heating_rate(rho, u, a2, gamma, drag, film, wall_a2):
    """(gamma - 1)(q + rho u phi), Pa/s: wall heat and what friction turns into heat.

    With the Colburn analogy and (gamma - 1) cp = gamma R the first part is
    film |u| rho (gamma R T_w - a^2); wall_a2 = gamma R T_w.
    """
    return abs(u) * rho * (film * (wall_a2 - a2) + (gamma - 1.0) * drag * u * u)
