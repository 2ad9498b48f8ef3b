"""Where several ducts meet: what flows in mixes, and leaves mixed, with the losses of a branch.

No volume, so mass, energy and species balance at every instant:

    sum m_k = 0,   h0 of what leaves = sum(m h0) / sum(m) of what enters,   Y likewise.

All that enter do so at one pressure p. What a leg that is left through begins with, p_j, follows
from the directions of the legs (theta, from the axis outward) and the speeds:

- a pipe, or a mouth in a wall, has the law that ends/legs.py gives, with U_j the speed of what
  enters along its axis, of which a stream that turns by delta brings cos(3/4 delta) (Hager, Proc.
  IMechE 198C, 1984; Bassett, Winterbone & Pearson, Proc. IMechE 215C, 2001; from memory):

    U_j = sum(m_i u_i cos(3/4 delta_ij)) / sum(m_i)

- in line with one other pipe, of speed u_t, whose flow only goes on in part, p_j is higher by
  rho_t u_t^2 / 4 times the part that turns off, 1 - m_j / sum(m_i) (their K = q^2 - 1.5 q + 0.5 for
  the share q that goes straight on). Where more than one leg is in line with it (a collector whose
  primaries stand at 0 deg) nothing turns off and there is no such rise.

All are steady laws, with the density of what flows in the leg. Where two legs in line both enter,
the slower does so at a pressure higher by rho (u_t^2 - u_j^2) / 4: the rise above, carried on so
that nothing jumps where the flow turns round. Legs that were given no directions have one pressure,
without recovery or loss (Benson, vol. 1, the constant-pressure model); all of it is exact for
sound. Flow into and out of the junction is sonic at most; a leg that is left through sonic takes
what its law says, whatever comes back in it.
"""

from math import cos, pi, sqrt, tan

import numpy as np

from aircolumn.flow.arrays.blocks import arrivals_of, ends_of, gas_of, mesh_of, nodes_at, turning_of
from aircolumn.flow.arrays.ends import JUNCTION
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.ends.legs import PIPE, speed_of
from aircolumn.flow.ends.mouth_and_throat import leaving_density
from aircolumn.flow.gas.kernels import (
    cv_coefficients,
    cv_from,
    energy_from,
    enthalpy_step,
    gamma,
    gas_constant,
)

ROUNDS, HALVE_EVERY = 80, 8
SLOPES = 0.2, 5.0  # times the acoustic slope: what is kept for the next stage; beyond, a leg has just turned
NEAR = 1e-3  # K
BALANCED = 2e-13  # of the flow a sound wave of the junction's pressure would bring
NO_DIRECTION = -1.0  # in place of an angle
SAME = 1e-6  # rad


@inlined
def outflow(ends, arrivals, leg, p):
    """Outward speed and density at the mouth of branch ``leg`` for gas that leaves it."""
    v = min((arrivals.invariant[leg] - p) / arrivals.impedance[leg], sqrt(arrivals.a2[leg]))
    return v, leaving_density(
        arrivals.invariant[leg] - arrivals.impedance[leg] * v,
        arrivals.rho[leg],
        arrivals.p[leg],
        arrivals.a2[leg],
    )


def in_line(loss, angle, leg, other) -> bool:
    """Whether ``leg`` and ``other`` are pipes that go straight on into each other."""
    a, b = angle[leg], angle[other]
    pipes = loss[leg] == PIPE and loss[other] == PIPE
    return pipes and abs(a + b - pi) < SAME and abs(abs(a - b) - pi) < SAME


def opposite(kind, loss, angle, ring) -> np.ndarray:
    """For each end the leg of its junction that is in line with it and with no other, or -1;
    ``ring``: the ends' partners."""
    legs = map(int, np.flatnonzero(kind == JUNCTION))
    lines = {leg: _in_line_with(loss, angle, ring, leg) for leg in legs}
    found = np.full(kind.size, -1)
    for leg, others in lines.items():
        if len(others) == 1 and lines[others[0]] == [leg]:
            found[leg] = others[0]
    return found


def _in_line_with(loss, angle, ring, leg) -> list[int]:
    others, other = [], int(ring[leg])
    while other != leg:
        if in_line(loss, angle, leg, other):
            others.append(other)
        other = int(ring[other])
    return others


def turning(kind, loss, angle, area, ring) -> np.ndarray:
    """What a stream from leg m means for leg k, (ends, ends), of ends whose partners are ``ring``:
    the share cos(3/4 delta) of its momentum for a pipe, c (A/A_c)^2 for a mouth in the wall of a
    pipe; 0 where there is nothing."""
    found = np.zeros((kind.size, kind.size))
    for leg in np.flatnonzero(kind == JUNCTION):
        other = ring[leg]
        while other != leg:
            delta = pi - abs(angle[other] - angle[leg])
            if loss[leg] == PIPE:
                found[leg, other] = cos(0.75 * delta)
            elif loss[other] == PIPE:
                found[leg, other] = min(1.3 * (1.0 - tan(0.5 * delta)), 1.0) * (area[leg] / area[other]) ** 2
            other = ring[other]
    return found


@inlined
def enter(ends, arrivals, first, p):
    """Outward speeds ``arrivals.out`` and densities ``arrivals.behind`` of the legs whose gas enters the
    junction at ``p``; speed 0 for all others."""
    leg = first
    while True:
        v, arrivals.behind[leg] = outflow(ends, arrivals, leg, p)
        arrivals.out[leg] = max(v, 0.0)
        leg = ends.partner[leg]
        if leg == first:
            break
    if ends.angle[first] == NO_DIRECTION:
        return
    leg = first
    while True:
        other = ends.opposite[leg]
        if other >= 0 and arrivals.out[other] > arrivals.out[leg] > 0.0:
            head = 0.25 * arrivals.behind[other] * arrivals.out[other]
            arrivals.out[leg] = slower(arrivals, leg, p + head * arrivals.out[other], arrivals.behind[other])
        leg = ends.partner[leg]
        if leg == first:
            break


@inlined
def slower(arrivals, leg, p, rho):
    """Speed at which leg ``leg`` enters at p - rho v^2 / 4; its density then goes into ``behind``."""
    impedance, rise = arrivals.impedance[leg], arrivals.invariant[leg] - p
    v = 2.0 * rise / (impedance + sqrt(max(impedance * impedance - rho * rise, 0.0)))
    v = min(max(v, 0.0), arrivals.out[leg])
    arrivals.behind[leg] = leaving_density(
        arrivals.invariant[leg] - impedance * v, arrivals.rho[leg], arrivals.p[leg], arrivals.a2[leg]
    )
    return v


@inlined
def mix(gas, mesh, ends, arrivals, first):
    """What enters the junction: flow kg/s, stagnation enthalpy J/kg, yf, yb."""
    total, heat, fuel, burned = 0.0, 0.0, 0.0, 0.0
    leg = first
    while True:
        v = arrivals.out[leg]
        if v > 0.0:
            rho, yf, yb = arrivals.behind[leg], arrivals.yf[leg], arrivals.yb[leg]
            p = arrivals.invariant[leg] - arrivals.impedance[leg] * v
            flow = mesh.area[ends.node[leg]] * rho * v
            t = p / (rho * gas_constant(gas, yf, yb))
            h = energy_from(cv_coefficients(gas, yf, yb), t) + p / rho + 0.5 * v * v
            total += flow
            heat += flow * h
            fuel += flow * yf
            burned += flow * yb
        leg = ends.partner[leg]
        if leg == first:
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
def streams(mesh, ends, arrivals, turning, leg):
    """What the legs that enter mean for leg ``leg``: speed U along it, for a mouth the part
    c (A/A_c)^2 won back, and the rise rho u_t^2 / 4 if nothing of what comes in line went on."""
    total, along, turned, rise = 0.0, 0.0, 0.0, 0.0
    other = ends.partner[leg]
    while other != leg:
        v = arrivals.out[other]
        if v > 0.0:
            flow = mesh.area[ends.node[other]] * arrivals.behind[other] * v
            total += flow
            along += flow * v * turning[leg, other]
            turned += flow * turning[leg, other]
        other = ends.partner[other]
    other = ends.opposite[leg]
    if other >= 0 and arrivals.out[other] > 0.0:
        rise = 0.25 * arrivals.behind[other] * arrivals.out[other] * arrivals.out[other]
    return along / total, turned / total, rise


@inlined
def leave(mesh, ends, arrivals, leg, p, h0, still, mixture, push, flow):
    """Fills leg ``leg``, through which a mixture of stagnation enthalpy h0 and temperature ``still``
    (K) leaves. mixture: see mixture_at; push: what streams says of the leg; flow: kg/s that enters
    the junction."""
    impedance, invariant = arrivals.impedance[leg], arrivals.invariant[leg]
    if ends.angle[leg] == NO_DIRECTION:
        w = min(max((p - invariant) / impedance, 0.0), mixture[2])
        arrivals.begins[leg] = invariant + impedance * w
    else:
        part = mesh.area[ends.node[leg]] / flow
        w, arrivals.begins[leg] = speed_of(ends.loss[leg], invariant, impedance, p, mixture, push, part)
    _, _, _, c, per_cp, growth, r = mixture
    h, fall = h0 - 0.5 * w * w, 0.5 * w * w * per_cp
    t = still - fall * (1.0 + 0.5 * growth * fall)  # of the third power of the fall is left
    arrivals.behind[leg] = arrivals.begins[leg] / (r * enthalpy_step(c, r, h, t))
    arrivals.out[leg] = -w


@inlined
def mixture_at(c, r, still):
    """What ``leave`` wants to know of a mixture at rest at ``still`` K: R T, R/cp and the speed of
    sound when it flows sonic; its heat capacities; 1/cp and the growth of cp, 1/K; R."""
    cp = cv_from(c, still) + r
    growth = (cv_from(c, still + 1.0) + r) / cp - 1.0
    sonic = sqrt(2.0 * cp * r * still / (2.0 * cp - r))
    return r * still, r / cp, sonic, c, 1.0 / cp, growth, r


@routine
def net_inflow(net, first, p, guess):
    """Flow into the junction less flow out of it, kg/s, at pressure ``p``, which it falls with,
    what flows in (as mix), and its temperature at rest, K, from a ``guess``. Fills ``arrivals.out``,
    ``arrivals.behind`` and ``arrivals.begins`` of all legs."""
    gas, mesh, ends, arrivals, turning = (
        gas_of(net),
        mesh_of(net),
        ends_of(net),
        arrivals_of(net),
        turning_of(net),
    )
    enter(ends, arrivals, first, p)
    mixed = mix(gas, mesh, ends, arrivals, first)
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
    leg = first
    while True:
        if arrivals.out[leg] == 0.0:
            push = 0.0, 0.0, 0.0
            if ends.angle[leg] != NO_DIRECTION:
                push = streams(mesh, ends, arrivals, turning, leg)
            leave(mesh, ends, arrivals, leg, p, h0, still, mixture, push, mixed[0])
            flow += mesh.area[ends.node[leg]] * arrivals.behind[leg] * arrivals.out[leg]
        leg = ends.partner[leg]
        if leg == first:
            break
    return flow, mixed, still


@routine
def junction(net, first, target):
    """Set the end nodes of all branches of the ring that starts at end ``first``: at the pressure
    at which flows balance, found by secants inside a bracket that is halved now and then.

    The search starts from the pressure of sound waves that meet, corrected by what that was off at
    the stage before, and from the slope of that stage.
    """
    gas, mesh, ends, arrivals = gas_of(net), mesh_of(net), ends_of(net), arrivals_of(net)
    still = arrivals.p[first] / (
        arrivals.rho[first] * gas_constant(gas, arrivals.yf[first], arrivals.yb[first])
    )
    top, bottom, acoustic = 0.0, 0.0, 0.0
    lo = hi = arrivals.invariant[first]
    leg = first
    while True:
        share = mesh.area[ends.node[leg]] / arrivals.impedance[leg]
        top += share * arrivals.invariant[leg]
        bottom += share
        acoustic += share * arrivals.rho[leg]
        lo, hi = min(lo, arrivals.invariant[leg]), max(hi, arrivals.invariant[leg])
        leg = ends.partner[leg]
        if leg == first:
            break
    meeting = top / bottom
    p = meeting + arrivals.offset[first]
    if not lo < p < hi:
        p = meeting
    slope = acoustic * arrivals.slope_ratio[first] if arrivals.slope_ratio[first] > 0.0 else acoustic
    scale = BALANCED * acoustic * p
    before, flow_before, n = p, 0.0, 0
    while True:
        flow, mixed, still = net_inflow(net, first, p, still)
        n += 1
        if abs(flow) <= scale or hi - lo <= 1e-15 * hi or n == ROUNDS:
            break
        lo, hi = (p, hi) if flow > 0.0 else (lo, p)
        if n > 1 and (flow_before - flow) * (p - before) > 0.0:
            slope = (flow_before - flow) / (p - before)
        if n == 2:  # later differences are too small to tell the slope well
            arrivals.slope_ratio[first] = min(max(slope / acoustic, SLOPES[0]), SLOPES[1])
        before, flow_before = p, flow
        p += flow / slope
        if not lo < p < hi or n % HALVE_EVERY == 0:
            p = 0.5 * (lo + hi)
    arrivals.offset[first] = p - meeting
    set_nodes(gas, ends, arrivals, first, mixed, nodes_at(net, target))


@inlined
def set_nodes(gas, ends, arrivals, first, mixed, nodes):
    """End nodes of a junction's legs, from what ``net_inflow`` found."""
    _, _, yf, yb = mixed
    leg = first
    while True:
        j, v, rho = ends.node[leg], arrivals.out[leg], arrivals.behind[leg]
        p = arrivals.invariant[leg] - arrivals.impedance[leg] * v if v >= 0.0 else arrivals.begins[leg]
        nodes.yf[j], nodes.yb[j], nodes.gamma[j] = arrivals.yf[leg], arrivals.yb[leg], arrivals.gamma[leg]
        if v < 0.0:
            nodes.yf[j], nodes.yb[j] = yf, yb
            nodes.gamma[j] = gamma(gas, yf, yb, p / (rho * gas_constant(gas, yf, yb)))
        nodes.u[j], nodes.p[j], nodes.rho[j] = ends.side[leg] * v, p, rho
        nodes.a[j] = sqrt(nodes.gamma[j] * p / rho)
        leg = ends.partner[leg]
        if leg == first:
            break
