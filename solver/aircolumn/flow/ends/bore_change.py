"""Sudden change of bore between two ducts, with its loss, and with a throat between if any.

From the upstream bore (1) the gas narrows into the throat (t; the narrower bore where there is
none), and widens from there into the downstream bore (2). Mass flow m, stagnation enthalpy h0 and
composition are kept, and

- narrowing (vena contracta): p01 - p0t = K rho_t u_t^2 / 2, otherwise isentropic; K of a sharp edge
  is 0.5 (1 - At/A1) (Crane Technical Paper 410; the same form in handbooks of hydraulics);
- widening (Borda-Carnot: the throat's pressure acts on the annulus):
  pt A2 + m ut = p2 A2 + m u2, which at low speed loses (1 - At/A2)^2 of the dynamic head;
- the throat's air has inertia: I dm/dt stands beside these losses, I its length over its area
  (unsteady Bernoulli equation of a short throat; implicit in time).

The step itself holds no gas. A throat in which the flow is sonic lets no more through, whatever the
pressure behind it (NACA Report 1135, choked flow); without a throat, flow that would be faster than
sound in the narrow bore leaves it sonic. In the downstream bore too the flow begins at most sonic.
Gas that comes faster than sound meets the step through a shock (ends/fast.py).

The search holds gamma at the upstream temperature; the states that are set keep m and h0 exactly.
"""

from math import sqrt

from aircolumn.flow.arrays.blocks import OLD, arrivals_of, ends_of, gas_of, mesh_of, nodes_at
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.ends.fast import at_speed
from aircolumn.flow.ends.junction import cooled
from aircolumn.flow.ends.mouth_and_throat import leaving_density, next_guess, stagnation
from aircolumn.flow.gas.kernels import (
    cv_coefficients,
    cv_from,
    energy_from,
    gamma,
    gas_constant,
)

NO_NARROWER = 1.0 - 1e-9  # of the bore: not a throat
BALANCED_WITHIN = 1e-11  # of the arriving invariant
CALM_SHARE = 0.4  # of the speed of sound in the narrowest bore: far from choking
LEAST = 0.01  # of the upstream pressure
MOST_FALL = 0.6  # of the arriving invariant that speed may take: the pressure stays positive


@inlined
def upstream(arrivals, end, v):
    """Pressure and density at end ``end`` whose gas leaves at speed ``v``."""
    if arrivals.impedance_behind[end] < 0.0:  # it comes faster than sound
        return at_speed(arrivals, end, v)
    p = arrivals.invariant[end] - arrivals.impedance[end] * v
    return p, leaving_density(p, arrivals.rho[end], arrivals.p[end], arrivals.a2[end])


@inlined
def speed_beyond(invariant, impedance, flux, r, g, p1, rho1, v):
    """Inward speed in the downstream bore for mass flow per area ``flux``, gamma held.

    w = flux R T / p with p = value + z w and T = T1 + (g-1)/(2 g R) (v^2 - w^2): a quadratic.
    """
    half = 0.5 * (g - 1.0) / g
    rt0 = p1 / rho1 + half * v * v
    a = impedance + flux * half
    root = sqrt(invariant * invariant + 4.0 * a * flux * rt0)
    if invariant > 0.0:
        return 2.0 * flux * rt0 / (invariant + root)
    return (root - invariant) / (2.0 * a)  # no cancellation


@inlined
def throat_speed(flux, p0, rho0, g):
    """Subsonic speed of isentropic flow of ``flux`` kg/(m2 s) from rest at (p0, rho0); sonic if it
    is more than the throat can pass. Newton from below, where the flux is concave: cannot miss."""
    a0 = sqrt(g * p0 / rho0)
    half = 0.5 * (g - 1.0)
    sonic = a0 * sqrt(1.0 / (1.0 + half))
    w = flux / rho0
    for _ in range(12):
        if w >= sonic:
            return sonic
        t = 1.0 - half * w * w / (a0 * a0)
        rho = rho0 * t ** (1.0 / (g - 1.0))
        step = (flux - rho * w) / (rho * (1.0 - w * w / (a0 * a0 * t)))
        w += step
        if step <= 1e-9 * a0:
            break
    return min(w, sonic)


@routine
def in_throat(flux, p01, rho01, g, loss):
    """Pressure and speed in the throat for ``flux`` kg/(m2 s), from upstream's stagnation state."""
    p0, ratio = p01, rho01 / p01
    pt, ut = p01, 0.0
    for _ in range(5):  # the loss rests on the head it leaves
        ut = throat_speed(flux, p0, ratio * p0, g)
        fall = 1.0 - 0.5 * (g - 1.0) / g * ratio * ut * ut
        density = fall ** (1.0 / (g - 1.0))
        pt = p0 * fall * density
        p0 = p01 - 0.5 * loss * ratio * p0 * density * ut * ut
    return pt, ut


@routine
def driving_pressure(net, end, partner, areas, loss, v):
    """What drives the flow less what it loses, Pa, at upstream speed ``v``; falls with v."""
    gas, arrivals = gas_of(net), arrivals_of(net)
    area1, throat, area2 = areas
    p1, rho1 = upstream(arrivals, end, v)
    r = gas_constant(gas, arrivals.yf[end], arrivals.yb[end])
    g = gamma(gas, arrivals.yf[end], arrivals.yb[end], p1 / (rho1 * r))
    flow = rho1 * v * area1
    w = speed_beyond(
        arrivals.invariant[partner], arrivals.impedance[partner], flow / area2, r, g, p1, rho1, v
    )
    p2 = arrivals.invariant[partner] + arrivals.impedance[partner] * w
    if p2 <= LEAST * p1:  # far too little flow for the wave that comes back
        return p1 - p2
    if throat >= NO_NARROWER * area2:  # narrows only
        p01, _ = stagnation(p1, rho1, v, g)
        rho2 = flow / (area2 * max(w, 1e-12))
        p02, _ = stagnation(p2, rho2, w, g)
        return p01 - p02 - 0.5 * loss * rho2 * w * w
    pt, ut = p1, v
    if throat < NO_NARROWER * area1:
        pt, ut = in_throat(flow / throat, *stagnation(p1, rho1, v, g), g, loss)
    return pt - p2 + flow / area2 * (ut - w)


@routine
def choking_margin(net, end, areas, loss, v):
    """What the throat could pass, sonic, less what arrives at upstream speed ``v``; kg/s.

    The sonic head is gamma/2 (2/(gamma+1))^(gamma/(gamma-1)) p0t: p0t = p01 / (1 + K times that).
    """
    gas, arrivals = gas_of(net), arrivals_of(net)
    p1, rho1 = upstream(arrivals, end, v)
    g = gamma(
        gas,
        arrivals.yf[end],
        arrivals.yb[end],
        p1 / (rho1 * gas_constant(gas, arrivals.yf[end], arrivals.yb[end])),
    )
    p0, rho0 = stagnation(p1, rho1, v, g)
    head = 0.5 * g * (2.0 / (g + 1.0)) ** (g / (g - 1.0))
    choked = sqrt(g * p0 * rho0) * (2.0 / (g + 1.0)) ** (0.5 * (g + 1.0) / (g - 1.0))
    return areas[1] * choked / (1.0 + loss * head) - areas[0] * rho1 * v


@routine
def highest_speed(net, end, areas, loss):
    """Upstream speed at which the throat, or the upstream bore, is sonic."""
    arrivals = arrivals_of(net)
    hi = sqrt(arrivals.a2[end])
    if arrivals.impedance_behind[end] == 0.0:
        hi = min(hi, MOST_FALL * arrivals.invariant[end] / arrivals.impedance[end])
    if areas[1] >= NO_NARROWER * areas[0]:
        return hi
    f_hi = choking_margin(net, end, areas, loss, hi)
    if f_hi >= 0.0:
        return hi
    lo, f_lo, x, side, top = (
        0.0,
        choking_margin(net, end, areas, loss, 0.0),
        hi * areas[1] / areas[0],
        0,
        hi,
    )
    for _ in range(60):
        f = choking_margin(net, end, areas, loss, x)
        if abs(f) <= 1e-10 * f_lo or hi - lo <= 1e-14 * top:
            break
        lo, f_lo, hi, f_hi, x, side = next_guess(lo, f_lo, hi, f_hi, x, f, side)
    return x


@routine
def residual(net, end, partner, areas, loss, inertia, flow_before, v):
    """The driving pressure less what changes the flow of the throat's air, Pa; falls with ``v``."""
    flow = upstream(arrivals_of(net), end, v)[1] * v * areas[0]
    return driving_pressure(net, end, partner, areas, loss, v) - inertia * (flow - flow_before)


@routine
def balance_nearby(net, end, partner, areas, loss, inertia, flow_before, guess):
    """As ``balance``, if secants from the guess find it, and well below the speed of sound in the narrowest
    bore, so that it cannot choke; else 0. The first slope is that of sound waves."""
    arrivals = arrivals_of(net)
    most = CALM_SHARE * sqrt(arrivals.a2[end]) * areas[1] / areas[0]
    if arrivals.impedance_behind[end] < 0.0 or not 0.0 < guess < most:
        return 0.0
    z1, z2 = arrivals.impedance[end], arrivals.impedance[partner]
    slope = z1 + (z2 / areas[2] + inertia * arrivals.rho[end]) * areas[0]
    x, before, f_before = guess, 0.0, 0.0
    for n in range(8):
        f = residual(net, end, partner, areas, loss, inertia, flow_before, x)
        if abs(f) <= BALANCED_WITHIN * arrivals.invariant[end]:
            return x
        if n > 0 and (f_before - f) * (x - before) > 0.0:
            slope = (f_before - f) / (x - before)
        before, f_before = x, f
        x += f / slope
        if not 0.0 < x < most:
            return 0.0
    return 0.0


@routine
def balance(net, end, partner, areas, loss, inertia, flow_before, guess):
    """Upstream speed at which driving pressure and losses balance.

    inertia: inertance of the throat over the time passed, 1/(m s); flow_before: kg/s at its start.
    By secants from the guess (the stage before is close); where these fail, or the flow is fast, by false
    position between rest and the highest speed, which cannot miss.
    """
    v = balance_nearby(net, end, partner, areas, loss, inertia, flow_before, guess)
    if v > 0.0:
        return v
    hi = highest_speed(net, end, areas, loss)
    lo = 0.0
    f_hi = residual(net, end, partner, areas, loss, inertia, flow_before, hi)
    if f_hi >= 0.0:
        return hi
    f_lo = residual(net, end, partner, areas, loss, inertia, flow_before, lo)
    if f_lo <= 0.0:
        return lo
    x = guess if lo < guess < hi else 0.5 * (lo + hi)
    side = 0
    for _ in range(60):
        fx = residual(net, end, partner, areas, loss, inertia, flow_before, x)
        if abs(fx) <= BALANCED_WITHIN * arrivals_of(net).invariant[end] or hi - lo <= 1e-14 * hi:
            break
        lo, f_lo, hi, f_hi, x, side = next_guess(lo, f_lo, hi, f_hi, x, fx, side)
    return x


@routine
def sudden_step(net, first, earlier, target, tau):
    """Set the end nodes of both sides of the step between end ``first`` and its partner, ``tau``
    after the old nodes; ``earlier``: the stage whose speeds start the search."""
    gas, mesh, ends, arrivals = gas_of(net), mesh_of(net), ends_of(net), arrivals_of(net)
    old, nodes = nodes_at(net, OLD), nodes_at(net, target)
    end, partner = first, ends.partner[first]
    if forward_drive(mesh, ends, arrivals, end, partner, old, tau) < 0.0:
        end, partner = partner, end
    node, node_beyond = ends.node[end], ends.node[partner]
    areas = (
        mesh.area[node],
        min(ends.throat[end], mesh.area[node], mesh.area[node_beyond]),
        mesh.area[node_beyond],
    )
    inertia = ends.inertance[end] / tau
    flow_before = ends.side[end] * mesh.area[node] * old.rho[node] * old.u[node]
    guess = ends.side[end] * nodes_at(net, earlier).u[node]
    v = balance(net, end, partner, areas, ends.loss[end], inertia, flow_before, guess)
    p1, rho1 = upstream(arrivals, end, v)
    yf, yb = arrivals.yf[end], arrivals.yb[end]
    c, r = cv_coefficients(gas, yf, yb), gas_constant(gas, yf, yb)
    t1 = p1 / (rho1 * r)
    h0 = energy_from(c, t1) + r * t1 + 0.5 * v * v
    g1 = gamma(gas, yf, yb, t1)
    flux = rho1 * v * areas[0] / areas[2]
    w = speed_beyond(arrivals.invariant[partner], arrivals.impedance[partner], flux, r, g1, p1, rho1, v)
    p2, t2, rho2 = arrivals.invariant[partner], t1, rho1
    for _ in range(30):  # Newton on w = flux / rho(w)
        p2 = arrivals.invariant[partner] + arrivals.impedance[partner] * w
        t2 = cooled(gas, yf, yb, h0, w, t2)
        rho2 = p2 / (r * t2)
        step = flux / rho2 - w
        if abs(step) <= 1e-14 * (abs(w) + 1.0):
            break
        cp = cv_from(c, t2) + r
        w += step / (1.0 + flux / rho2 * (arrivals.impedance[partner] / p2 + w / (cp * t2)))
    w = flux / rho2
    if w * w > gamma(gas, yf, yb, t2) * r * t2:  # the wave from beyond does not get here
        for _ in range(12):
            w = sqrt(gamma(gas, yf, yb, t2) * r * t2)
            t2 = cooled(gas, yf, yb, h0, w, t2)
        rho2 = flux / w
        p2 = rho2 * r * t2
    nodes.u[node], nodes.p[node], nodes.rho[node] = ends.side[end] * v, p1, rho1
    nodes.u[node_beyond], nodes.p[node_beyond], nodes.rho[node_beyond] = -ends.side[partner] * w, p2, rho2
    nodes.yf[node], nodes.yb[node], nodes.yf[node_beyond], nodes.yb[node_beyond] = yf, yb, yf, yb
    nodes.gamma[node], nodes.gamma[node_beyond] = arrivals.gamma[end], gamma(gas, yf, yb, t2)
    nodes.a[node] = sqrt(nodes.gamma[node] * p1 / rho1)
    nodes.a[node_beyond] = sqrt(nodes.gamma[node_beyond] * p2 / rho2)


@inlined
def forward_drive(mesh, ends, arrivals, end, partner, old, tau):
    """Positive if the gas flows from end ``end`` to end ``partner``: the pressure that drives it, and what
    the throat's inertia keeps going."""
    node = ends.node[end]
    flow = ends.side[end] * mesh.area[node] * old.rho[node] * old.u[node]
    return arrivals.invariant[end] - arrivals.invariant[partner] + ends.inertance[end] / tau * flow
