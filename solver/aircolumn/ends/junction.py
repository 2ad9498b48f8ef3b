"""Where several ducts meet: one pressure, what flows in mixes, and leaves mixed.

No volume, so mass, energy and species balance at every instant:

    sum m_k = 0,   h0 of what leaves = sum(m h0) / sum(m) of what enters,   Y likewise.

Pressure is common to all branches (Benson, vol. 1, the constant-pressure model): exact for sound,
without the recovery or loss of a real branch. Two ducts of the same bore are joined without any of
this (a copy of one node state).
"""

from aircolumn.compiled.decorators import inlined, routine
from aircolumn.ends.boundary import leaving_density
from aircolumn.gas.kernels import (
    cv_coefficients,
    cv_from,
    energy_from,
    gamma,
    gas_constant,
)

ROUNDS = 60


@inlined
def outflow(ends, arr, k, p):
    """Outward speed and density at the mouth of branch ``k`` for gas that leaves it."""
    v = (arr.value[k] - p) / arr.z[k]
    return v, leaving_density(p, arr.rho[k], arr.p[k], arr.a2[k])


@routine
def mix(gas, mesh, ends, arr, first, p):
    """What enters the junction at pressure ``p``: flow kg/s, stagnation enthalpy J/kg, yf, yb."""
    total, heat, fuel, burned = 0.0, 0.0, 0.0, 0.0
    k = first
    while True:
        v, rho = outflow(ends, arr, k, p)
        if v > 0.0:
            flow = mesh.area[ends.node[k]] * rho * v
            yf, yb = arr.yf[k], arr.yb[k]
            t = p / (rho * gas_constant(gas, yf, yb))
            h = energy_from(cv_coefficients(gas, yf, yb), t) + p / rho + 0.5 * v * v
            total += flow
            heat += flow * h
            fuel += flow * yf
            burned += flow * yb
        k = ends.volume[k]
        if k == first:
            break
    if total <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    return total, heat / total, fuel / total, burned / total


@inlined
def cooled(gas, yf, yb, h0, w, guess):
    """Temperature at speed ``w`` of gas with stagnation enthalpy ``h0``: three Newton steps."""
    c, r = cv_coefficients(gas, yf, yb), gas_constant(gas, yf, yb)
    h = h0 - 0.5 * w * w
    t = guess
    t -= (energy_from(c, t) + r * t - h) / (cv_from(c, t) + r)
    t -= (energy_from(c, t) + r * t - h) / (cv_from(c, t) + r)
    t -= (energy_from(c, t) + r * t - h) / (cv_from(c, t) + r)
    return t


@routine
def surplus(gas, mesh, ends, arr, first, p, mixed, guess):
    """Flow into the junction less flow out of it, kg/s, and its slope with falling pressure."""
    _, h0, yf, yb = mixed
    r = gas_constant(gas, yf, yb)
    flow, slope = 0.0, 0.0
    k = first
    while True:
        v, rho = outflow(ends, arr, k, p)
        if v <= 0.0 and h0 > 0.0:
            rho = p / (r * cooled(gas, yf, yb, h0, v, guess))
        area = mesh.area[ends.node[k]]
        flow += area * rho * v
        slope += area * rho / arr.z[k]
        k = ends.volume[k]
        if k == first:
            break
    return flow, slope


@routine
def junction(gas, mesh, ends, arr, first, nodes):
    """Set the end nodes of all branches of the ring that starts at end ``first``."""
    top, bottom = 0.0, 0.0
    k = first
    while True:
        share = mesh.area[ends.node[k]] / arr.z[k]
        top += share * arr.value[k]
        bottom += share
        k = ends.volume[k]
        if k == first:
            break
    p = top / bottom
    guess = arr.p[first] / (arr.rho[first] * gas_constant(gas, arr.yf[first], arr.yb[first]))
    mixed = mix(gas, mesh, ends, arr, first, p)
    for _ in range(ROUNDS):
        flow, slope = surplus(gas, mesh, ends, arr, first, p, mixed, guess)
        p += flow / slope
        mixed = mix(gas, mesh, ends, arr, first, p)
        if abs(flow) <= 1e-14 * slope * p:
            break
    _, h0, yf, yb = mixed
    k = first
    while True:
        j = ends.node[k]
        v, rho = outflow(ends, arr, k, p)
        nodes.yf[j], nodes.yb[j] = arr.yf[k], arr.yb[k]
        nodes.gamma[j] = arr.gamma[k]
        if v <= 0.0 and h0 > 0.0:
            t = cooled(gas, yf, yb, h0, v, guess)
            rho = p / (gas_constant(gas, yf, yb) * t)
            nodes.yf[j], nodes.yb[j] = yf, yb
            nodes.gamma[j] = gamma(gas, yf, yb, t)
        nodes.u[j], nodes.p[j], nodes.rho[j] = ends.side[k] * v, p, rho
        nodes.a[j] = (nodes.gamma[j] * p / rho) ** 0.5
        k = ends.volume[k]
        if k == first:
            break
