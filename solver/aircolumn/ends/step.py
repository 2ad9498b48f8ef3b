"""Sudden change of bore between two ducts, with its loss.

Steady flow across the step of mass m, stagnation enthalpy h0 and composition kept, and

- widening (Borda-Carnot: the small bore's pressure acts on the annulus):
  p1 A2 + m u1 = p2 A2 + m u2, which at low speed loses (1 - A1/A2)^2 of the dynamic head;
- narrowing (vena contracta): p01 - p02 = 0.5 (1 - A2/A1) rho2 u2^2 / 2 (handbook value for a sharp
  edge, e.g. Idelchik, from memory).

1 is upstream. The step itself holds no gas. Flow that would be faster than sound in the narrow bore
leaves it sonic.
"""

from math import sqrt

from aircolumn.compiled import routine, small
from aircolumn.ends.boundary import leaving_density, next_guess
from aircolumn.ends.junction import cooled
from aircolumn.gas.kernels import cv_coefficients, energy_from, gamma, gas_constant


@small
def upstream(gas, arr, k, v):
    """Pressure, density and stagnation enthalpy at end ``k`` whose gas leaves at speed ``v``."""
    p = arr.value[k] - arr.z[k] * v
    rho = leaving_density(p, arr.rho[k], arr.p[k], arr.a2[k])
    yf, yb = arr.yf[k], arr.yb[k]
    t = p / (rho * gas_constant(gas, yf, yb))
    h = energy_from(cv_coefficients(gas, yf, yb), t) + p / rho
    return p, rho, h + 0.5 * v * v, t


@routine
def downstream(gas, arr, m, k, flux, h0, guess):
    """Speed, pressure, density and temperature in duct ``m`` (inward) of gas from end ``k``.

    flux: mass flow per area of ``m``. Fixed point of w = flux / rho(w).
    """
    yf, yb = arr.yf[k], arr.yb[k]
    r = gas_constant(gas, yf, yb)
    w, p, t, rho = 0.0, arr.value[m], guess, arr.value[m] / (r * guess)
    for _ in range(60):
        earlier = w
        w = flux / rho
        p = arr.value[m] + arr.z[m] * w
        t = cooled(gas, yf, yb, h0, w, t)
        rho = p / (r * t)
        if abs(w - earlier) <= 1e-15 * (abs(w) + 1.0):
            break
    return flux / rho, p, rho, t


@routine
def mismatch(gas, arr, k, m, area1, area2, v):
    """Momentum (widening) or stagnation pressure (narrowing) upstream less downstream, Pa."""
    p1, rho1, h0, t1 = upstream(gas, arr, k, v)
    flux = rho1 * v * area1 / area2
    w, p2, rho2, _ = downstream(gas, arr, m, k, flux, h0, t1)
    if area2 >= area1:
        return p1 - p2 + flux * (v - w)
    g = gamma(gas, arr.yf[k], arr.yb[k], t1)
    power, half = g / (g - 1.0), 0.5 * (g - 1.0)
    stagnation1 = p1 * (1.0 + half * v * v * rho1 / (g * p1)) ** power
    stagnation2 = p2 * (1.0 + half * w * w * rho2 / (g * p2)) ** power
    return stagnation1 - stagnation2 - 0.25 * (1.0 - area2 / area1) * rho2 * w * w


@routine
def sudden_step(gas, mesh, ends, arr, first, nodes):
    """Set the end nodes of both sides of the step between end ``first`` and its partner."""
    k, m = first, ends.volume[first]
    if arr.value[m] > arr.value[k]:
        k, m = m, k
    i, j = ends.node[k], ends.node[m]
    area1, area2 = mesh.area[i], mesh.area[j]
    lo, hi = 0.0, min(sqrt(arr.a2[k]), 0.6 * arr.value[k] / arr.z[k])  # keeps pressure positive
    if area2 < area1:
        hi *= area2 / area1
    f_lo = mismatch(gas, arr, k, m, area1, area2, lo)
    f_hi = mismatch(gas, arr, k, m, area1, area2, hi)
    v = hi
    if f_lo <= 0.0:
        v = 0.0
    elif f_hi < 0.0:
        side = 0
        v = min((arr.value[k] - arr.value[m]) / (arr.z[k] + arr.z[m] * area1 / area2), 0.9 * hi)
        for _ in range(60):
            f = mismatch(gas, arr, k, m, area1, area2, v)
            if abs(f) <= 1e-12 * arr.value[k] or hi - lo <= 1e-14 * hi:
                break
            lo, f_lo, hi, f_hi, v, side = next_guess(lo, f_lo, hi, f_hi, v, f, side)
    p1, rho1, h0, t1 = upstream(gas, arr, k, v)
    w, p2, rho2, t2 = downstream(gas, arr, m, k, rho1 * v * area1 / area2, h0, t1)
    nodes.u[i], nodes.p[i], nodes.rho[i] = ends.side[k] * v, p1, rho1
    nodes.u[j], nodes.p[j], nodes.rho[j] = -ends.side[m] * w, p2, rho2
    nodes.yf[i], nodes.yb[i] = arr.yf[k], arr.yb[k]
    nodes.yf[j], nodes.yb[j] = arr.yf[k], arr.yb[k]
    nodes.gamma[i] = arr.gamma[k]
    nodes.gamma[j] = gamma(gas, arr.yf[k], arr.yb[k], t2)
    nodes.a[i] = sqrt(nodes.gamma[i] * p1 / rho1)
    nodes.a[j] = sqrt(nodes.gamma[j] * p2 / rho2)
