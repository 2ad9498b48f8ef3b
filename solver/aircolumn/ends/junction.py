"""Where several ducts meet: what flows in mixes, and leaves mixed, with the losses of a branch.

No volume, so mass, energy and species balance at every instant:

    sum m_k = 0,   h0 of what leaves = sum(m h0) / sum(m) of what enters,   Y likewise.

All that enter do so at one pressure p. What a leg that is left through begins with, p_j, follows
from the directions of the legs (theta, from the axis outward) and the speeds:

- a pipe: momentum along its axis, of which a stream that turns by delta brings cos(3/4 delta)
  (Hager, Proc. IMechE 198C, 1984; Bassett, Winterbone & Pearson, Proc. IMechE 215C, 2001; from
  memory):

    p - p_j = rho u_j (u_j - U_j),   U_j = sum(m_i u_i cos(3/4 delta_ij)) / sum(m_i)

  and in line with a leg of speed u_t > u_j, because only a part turns off, p_j is higher by
  rho u_t (u_t - u_j) / 4 (their K = q^2 - 1.5 q + 0.5 for the share q that goes straight on);
- a mouth in a wall, of entry loss K and area A in a duct of area A_c: the wall's pressure is that
  of flow along it, and what turns off brings or costs a part of its head (Gardel, Bulletin
  technique de la Suisse romande 83, 1957, from memory; his sharp-edged mouth, K = 0.4, is replaced
  by the mouth's own):

    p - p_j = (1 + K - 1.3 (1 - tan(delta/2)) (A/A_c)^2) rho u_j^2 / 2

Both are steady losses of air that keeps its density, counted with that of the mixture. Where two
legs in line both enter, the slower does so at a pressure higher by rho (u_t^2 - u_j^2) / 4: the
rise above, carried on so that nothing jumps where the flow turns round. Legs that were given no
directions have one pressure, without recovery or loss (Benson, vol. 1, the constant-pressure
model); all of it is exact for sound. Flow into and out of the junction is sonic at most.
"""

from math import cos, pi, sqrt, tan

import numpy as np

from aircolumn.arrays.blocks import arrivals_of, ends_of, gas_of, mesh_of, nodes_at, turning_of
from aircolumn.arrays.ends import JUNCTION
from aircolumn.compiled.decorators import inlined, routine
from aircolumn.ends.boundary import leaving_density
from aircolumn.gas.kernels import (
    cv_coefficients,
    cv_from,
    energy_from,
    enthalpy_step,
    gamma,
    gas_constant,
)

ROUNDS, HALVE_EVERY = 80, 8
NEAR = 1e-3  # K
BALANCED = 1e-11  # of the flow a sound wave of the junction's pressure would bring
PIPE, NO_DIRECTION = -1.0, -1.0  # in place of a mouth's loss, of an angle
SAME = 1e-6  # rad


@inlined
def outflow(ends, arr, k, p):
    """Outward speed and density at the mouth of branch ``k`` for gas that leaves it."""
    v = min((arr.value[k] - p) / arr.z[k], sqrt(arr.a2[k]))
    return v, leaving_density(arr.value[k] - arr.z[k] * v, arr.rho[k], arr.p[k], arr.a2[k])


@inlined
def in_line(ends, k, m):
    """Whether ``k`` and ``m`` are pipes that go straight on into each other."""
    a, b = ends.angle[k], ends.angle[m]
    return (
        ends.loss[k] == PIPE
        and ends.loss[m] == PIPE
        and abs(a + b - pi) < SAME
        and abs(abs(a - b) - pi) < SAME
    )


def turning(kind, loss, angle, area, ring) -> np.ndarray:
    """What a stream from leg m means for leg k, (ends, ends), of ends whose partners are ``ring``:
    the share cos(3/4 delta) of its momentum for a pipe, 1.3 (1 - tan(delta/2)) (A/A_c)^2 for a
    mouth in the wall of a pipe; 0 where there is nothing."""
    found = np.zeros((kind.size, kind.size))
    for k in np.flatnonzero(kind == JUNCTION):
        m = ring[k]
        while m != k:
            delta = pi - abs(angle[m] - angle[k])
            if loss[k] == PIPE:
                found[k, m] = cos(0.75 * delta)
            elif loss[m] == PIPE:
                found[k, m] = 1.3 * (1.0 - tan(0.5 * delta)) * (area[k] / area[m]) ** 2
            m = ring[m]
    return found


@inlined
def enter(ends, arr, first, p):
    """Outward speeds ``arr.out`` and densities ``arr.behind`` of the legs whose gas enters the
    junction at ``p``; speed 0 for all others."""
    k = first
    while True:
        v, arr.behind[k] = outflow(ends, arr, k, p)
        arr.out[k] = max(v, 0.0)
        k = ends.volume[k]
        if k == first:
            break
    if ends.angle[first] == NO_DIRECTION:
        return
    k = first
    while True:
        m = ends.volume[k]
        while m != k:
            if arr.out[m] > arr.out[k] > 0.0 and in_line(ends, k, m):
                head = 0.25 * arr.behind[m] * arr.out[m]
                arr.out[k] = slower(arr, k, p + head * arr.out[m], arr.behind[m])
            m = ends.volume[m]
        k = ends.volume[k]
        if k == first:
            break


@inlined
def slower(arr, k, p, rho):
    """Speed at which leg ``k`` enters at p - rho v^2 / 4; its density then goes into ``behind``."""
    z, rise = arr.z[k], arr.value[k] - p
    v = 2.0 * rise / (z + sqrt(max(z * z - rho * rise, 0.0)))
    v = min(max(v, 0.0), arr.out[k])
    arr.behind[k] = leaving_density(arr.value[k] - z * v, arr.rho[k], arr.p[k], arr.a2[k])
    return v


@inlined
def mix(gas, mesh, ends, arr, first):
    """What enters the junction: flow kg/s, stagnation enthalpy J/kg, yf, yb."""
    total, heat, fuel, burned = 0.0, 0.0, 0.0, 0.0
    k = first
    while True:
        v = arr.out[k]
        if v > 0.0:
            rho, yf, yb = arr.behind[k], arr.yf[k], arr.yb[k]
            p = arr.value[k] - arr.z[k] * v
            flow = mesh.area[ends.node[k]] * rho * v
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
    return enthalpy_step(c, r, h, enthalpy_step(c, r, h, enthalpy_step(c, r, h, guess)))


@inlined
def streams(mesh, ends, arr, turning, k):
    """What the legs that enter mean for leg ``k``: speed U along it, speed u_t of the leg in line
    with it and rho u_t / 4, and for a mouth the part 1.3 (1 - tan(delta/2)) (A/A_c)^2."""
    total, along, ahead, rise, turned = 0.0, 0.0, 0.0, 0.0, 0.0
    m = ends.volume[k]
    while m != k:
        v = arr.out[m]
        if v > 0.0:
            flow = mesh.area[ends.node[m]] * arr.behind[m] * v
            total += flow
            if ends.loss[k] == PIPE:
                along += flow * v * turning[k, m]
                if in_line(ends, k, m):
                    ahead, rise = v, 0.25 * arr.behind[m] * v
            else:
                turned += flow * turning[k, m]
        m = ends.volume[m]
    return along / total, ahead, rise, turned / total


@inlined
def root(square, linear, constant):
    """Positive root of square w^2 + linear w = constant."""
    s = sqrt(linear * linear + 4.0 * square * constant)
    return 2.0 * constant / (linear + s) if linear > 0.0 else (s - linear) / (2.0 * square)


@inlined
def into_pipe(drop, z, rho, along, ahead, rise):
    """Inward speed of a pipe whose pressure may be ``drop`` Pa higher than what arrives in it."""
    w = root(rho, z - rho * along + rise, drop + rise * ahead)
    if w > ahead:  # not slower than what flows in line with it: nothing turns off
        w = max(root(rho, z - rho * along, max(drop, 0.0)), ahead)
    return w


@inlined
def leave(ends, arr, k, p, h0, still, mixture, push):
    """Inward speed and density of leg ``k`` that is left through by a mixture of stagnation
    enthalpy h0 and temperature ``still`` (K).

    mixture: its heat capacities (c; 1/cp and the growth of cp, 1/K, at ``still``), gas constant and
    speed of sound when it flows sonic; push: what streams says of the leg.
    """
    c, per_cp, growth, r, sonic = mixture
    along, ahead, rise, turned = push
    z, drop = arr.z[k], p - arr.value[k]
    w, begins = 0.0, p
    for _ in range(2):  # what is left is of the fourth power of the Mach number
        rho = begins / (r * (still - 0.5 * w * w * per_cp))
        if drop + rise * ahead <= 0.0:
            w = 0.0
        elif ends.angle[k] == NO_DIRECTION:
            w = drop / z
        elif ends.loss[k] != PIPE:
            w = root(0.5 * rho * (1.0 + ends.loss[k] - turned), z, drop)
        else:
            w = into_pipe(drop, z, rho, along, ahead, rise)
        w = min(w, sonic)
        begins = arr.value[k] + z * w
    h, fall = h0 - 0.5 * w * w, 0.5 * w * w * per_cp
    t = still - fall * (1.0 + 0.5 * growth * fall)  # of the third power of the fall is left
    return w, begins / (r * enthalpy_step(c, r, h, t))


@inlined
def mixture_at(c, r, still):
    """What ``leave`` wants to know of a mixture."""
    cp = cv_from(c, still) + r
    growth = (cv_from(c, still + 1.0) + r) / cp - 1.0
    return c, 1.0 / cp, growth, r, sqrt(2.0 * cp * r * still / (2.0 * cp - r))


@routine
def surplus(b, first, p, guess):
    """Flow into the junction less flow out of it, kg/s, at pressure ``p``, which it falls with,
    what flows in (as mix), and its temperature at rest, K, from a ``guess``. Fills ``arr.out`` and
    ``arr.behind`` of all legs."""
    gas, mesh, ends, arr, turning = gas_of(b), mesh_of(b), ends_of(b), arrivals_of(b), turning_of(b)
    enter(ends, arr, first, p)
    mixed = mix(gas, mesh, ends, arr, first)
    flow, h0, yf, yb = mixed
    if flow <= 0.0:
        return -1.0, mixed, guess
    c, r = cv_coefficients(gas, yf, yb), gas_constant(gas, yf, yb)
    still = guess
    for _ in range(3):
        before, still = still, enthalpy_step(c, r, h0, still)
        if abs(still - before) < NEAR:  # what is left is of its square
            break
    mixture = mixture_at(c, r, still)
    k = first
    while True:
        if arr.out[k] == 0.0:
            push = 0.0, 0.0, 0.0, 0.0
            if ends.angle[k] != NO_DIRECTION:
                push = streams(mesh, ends, arr, turning, k)
            w, arr.behind[k] = leave(ends, arr, k, p, h0, still, mixture, push)
            arr.out[k] = -w
            flow -= mesh.area[ends.node[k]] * arr.behind[k] * w
        k = ends.volume[k]
        if k == first:
            break
    return flow, mixed, still


@routine
def junction(b, first, target, slack):
    """Set the end nodes of all branches of the ring that starts at end ``first``: at the pressure
    at which flows balance, found by secants inside a bracket that is halved now and then.

    The search starts from the pressure of sound waves that meet, corrected by what that was off at
    the stage before, and from the slope of that stage. slack: times the usual tolerance.
    """
    gas, mesh, ends, arr = gas_of(b), mesh_of(b), ends_of(b), arrivals_of(b)
    still = arr.p[first] / (arr.rho[first] * gas_constant(gas, arr.yf[first], arr.yb[first]))
    top, bottom, acoustic = 0.0, 0.0, 0.0
    lo = hi = arr.value[first]
    k = first
    while True:
        share = mesh.area[ends.node[k]] / arr.z[k]
        top += share * arr.value[k]
        bottom += share
        acoustic += share * arr.rho[k]
        lo, hi = min(lo, arr.value[k]), max(hi, arr.value[k])
        k = ends.volume[k]
        if k == first:
            break
    meeting = top / bottom
    p = meeting + arr.offset[first]
    if not lo < p < hi:
        p = meeting
    slope = acoustic * arr.bend[first] if arr.bend[first] > 0.0 else acoustic
    scale = slack * BALANCED * acoustic * p
    before, flow_before, n = p, 0.0, 0
    while True:
        flow, mixed, still = surplus(b, first, p, still)
        n += 1
        if abs(flow) <= scale or hi - lo <= 1e-15 * hi or n == ROUNDS:
            break
        lo, hi = (p, hi) if flow > 0.0 else (lo, p)
        if n > 1 and (flow_before - flow) * (p - before) > 0.0:
            slope = (flow_before - flow) / (p - before)
        if n == 2:  # later differences are too small to tell the slope well
            arr.bend[first] = min(max(slope / acoustic, 0.2), 5.0)
        before, flow_before = p, flow
        p += flow / slope
        if not lo < p < hi or n % HALVE_EVERY == 0:
            p = 0.5 * (lo + hi)
    arr.offset[first] = p - meeting
    set_nodes(gas, ends, arr, first, mixed, nodes_at(b, target))


@inlined
def set_nodes(gas, ends, arr, first, mixed, nodes):
    """End nodes of a junction's legs, from what ``surplus`` found."""
    _, _, yf, yb = mixed
    k = first
    while True:
        j, v, rho = ends.node[k], arr.out[k], arr.behind[k]
        p = arr.value[k] - arr.z[k] * v
        nodes.yf[j], nodes.yb[j], nodes.gamma[j] = arr.yf[k], arr.yb[k], arr.gamma[k]
        if v < 0.0:
            nodes.yf[j], nodes.yb[j] = yf, yb
            nodes.gamma[j] = gamma(gas, yf, yb, p / (rho * gas_constant(gas, yf, yb)))
        nodes.u[j], nodes.p[j], nodes.rho[j] = ends.side[k] * v, p, rho
        nodes.a[j] = sqrt(nodes.gamma[j] * p / rho)
        k = ends.volume[k]
        if k == first:
            break
