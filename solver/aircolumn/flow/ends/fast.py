"""Ends that gas reaches faster than sound: what is outside cannot be told by a wave.

Where the node before an end is supersonic, the wave from outside comes from inside too, or a shock
stands in the last cell. The cell's mean state then meets the outside as in a Riemann problem of one
wave (Toro, Riemann Solvers, section 4.3): across it, to pressure p,

    v = u - f(p),   f: a shock's or a fan's change of speed.
"""

from math import sqrt

from aircolumn.flow.arrays.blocks import OLD, arrivals_of, ends_of, mesh_of, nodes_at, profile_of
from aircolumn.flow.arrays.ends import OPENING, STEP
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.duct.characteristics import along_wave, path_foot
from aircolumn.flow.duct.rescue import beside_contact, wave_side
from aircolumn.flow.ends.mouth_and_throat import stagnation
from aircolumn.flow.ends.nozzle import mass_flux

HALVINGS = 60


@inlined
def behind_shock(p, mach2, gamma):
    """Pressure behind a normal shock that stands in flow at ``p`` and Mach number squared
    ``mach2``: p2/p = 1 + 2 gamma/(gamma+1) (M^2 - 1) (NACA Report 1135)."""
    return p * (1.0 + 2.0 * gamma / (gamma + 1.0) * (mach2 - 1.0))


@inlined
def holds_back(p0, p, mach2, gamma):
    """Whether the pressure ``p0`` outside can push a normal shock into flow that leaves at ``p``
    and Mach number squared ``mach2``."""
    return p0 >= behind_shock(p, mach2, gamma)


@routine
def trace_supersonic_end(net, end, tau, rho_e, a_e):
    """End ``end`` where the node before it is supersonic, outward.

    If the cell between and the end node are too, the other wave comes from inside as well (z_behind
    > 0). Otherwise a shock stands in the cell: what meets the space outside is the cell's mean
    (z_behind < 0; rho, p, a2 and behind, the outward speed, are then those of the mean). So it is
    ahead of a throat, which lets no supersonic flow through unless it is as wide as the bore.
    """
    mesh, profile, old = mesh_of(net), profile_of(net), nodes_at(net, OLD)
    ends, arrivals = ends_of(net), arrivals_of(net)
    c, node, side = ends.cell[end], ends.node[end], ends.side[end]
    rho, u, p, g, yf, yb = path_foot(profile, c, 0.5)
    a = profile.a0[c] + 0.5 * (profile.a1[c] + 0.5 * profile.a2[c])
    if ends.kind[end] == OPENING and side * u > a and side * old.u[node] > old.a[node]:
        slope = 0.5 * side * (old.u[node] + old.u[node - side]) - 0.5 * (old.a[node] + old.a[node - side])
        reach = slope * tau * mesh.per_dx[c]
        s, taper = (1.0 - reach, mesh.taper_r[c]) if side > 0 else (reach, mesh.taper_l[c])
        invariant, impedance, _, _ = along_wave(mesh, profile, c, s, -1.0 * side, taper, tau, rho_e, a_e)
        arrivals.behind[end], arrivals.impedance_behind[end] = invariant, impedance
    else:
        arrivals.rho[end], arrivals.p[end], arrivals.a2[end], arrivals.gamma[end] = rho, p, g * p / rho, g
        arrivals.yf[end], arrivals.yb[end], arrivals.behind[end] = yf, yb, side * u
        arrivals.impedance_behind[end] = -1.0
        if ends.kind[end] == STEP:
            arrivals.invariant[end], _ = at_speed(arrivals, end, 0.0)
            arrivals.impedance[end] = rho * a


@inlined
def at_speed(arrivals, end, v):
    """Pressure and density of gas of the mean that has come to outward speed ``v``: f solved for p.
    Through a shock that runs back at W in the gas ahead, with d = u - v,

        W = (gamma+1) d / 4 + sqrt(((gamma+1) d / 4)^2 + a^2),  p = p_k + rho_k W d,
        rho = rho_k W / (W - d).
    """
    rho, p, d, g, a2 = (
        arrivals.rho[end],
        arrivals.p[end],
        arrivals.behind[end] - v,
        arrivals.gamma[end],
        arrivals.a2[end],
    )
    if d > 0.0:
        half = 0.25 * (g + 1.0) * d
        w = half + sqrt(half * half + a2)
        return p + rho * w * d, rho * w / (w - d)
    cooler = max(1.0 + 0.5 * (g - 1.0) * d / sqrt(a2), 0.1)  # of the speed of sound, in a fan
    density = cooler ** (2.0 / (g - 1.0))
    return p * density * cooler * cooler, rho * density


@routine
def leave_from_mean(net, end, p0, target):
    """Gas of the mean state of the last cell against the pressure outside: the Riemann problem of
    one wave (Toro, section 4.3). Returns whether it flows out."""
    ends, arrivals, nodes = ends_of(net), arrivals_of(net), nodes_at(net, target)
    rho, p, v, g, a = (
        arrivals.rho[end],
        arrivals.p[end],
        arrivals.behind[end],
        arrivals.gamma[end],
        sqrt(arrivals.a2[end]),
    )
    fall, _ = wave_side(p0, p, rho, a, g)
    if v - fall <= 0.0:
        return False
    rho, v, p = beside_contact(p0, v - fall, rho, v, p, a, g)
    node = ends.node[end]
    nodes.u[node], nodes.p[node], nodes.rho[node] = ends.side[end] * v, p, rho
    nodes.yf[node], nodes.yb[node], nodes.gamma[node] = arrivals.yf[end], arrivals.yb[end], g
    nodes.a[node] = sqrt(g * p / rho)
    return True


@inlined
def behind_wave(arrivals, end, p):
    """Outward speed and density of gas of the mean behind the shock that brings it to ``p``."""
    rho, p_k, u, g, a = (
        arrivals.rho[end],
        arrivals.p[end],
        arrivals.behind[end],
        arrivals.gamma[end],
        sqrt(arrivals.a2[end]),
    )
    fall, _ = wave_side(p, p_k, rho, a, g)
    share, ratio = (g - 1.0) / (g + 1.0), p / p_k
    return max(u - fall, 0.0), rho * (ratio + share) / (share * ratio + 1.0)


@inlined
def spare_of_throat(arrivals, end, area, throat, p_beyond, p):
    """Flow of the duct less that of the throat, kg/s, with ``p`` ahead of it; falls with p."""
    v, rho = behind_wave(arrivals, end, p)
    g = arrivals.gamma[end]
    p0, rho0 = stagnation(p, rho, v, g)
    return area * rho * v - throat * mass_flux(p0, rho0, g, p_beyond)


@inlined
def ahead_of_throat(arrivals, end, area, throat, p_beyond):
    """Outward speed, pressure and density of gas of the mean ahead of a throat of area ``throat``
    (m2) into ``p_beyond``: a shock runs back, or stands, so strong that the throat passes what
    follows it. A throat that passes all that follows a standing one swallows it, and the gas goes
    on faster than sound (Kantrowitz & Donaldson, NACA ACR L5D20, 1945)."""
    mach2 = arrivals.behind[end] * arrivals.behind[end] / arrivals.a2[end]
    low = max(p_beyond, arrivals.p[end])
    if arrivals.behind[end] > 0.0 and mach2 > 1.0:
        standing = behind_shock(arrivals.p[end], mach2, arrivals.gamma[end])
        passes = spare_of_throat(arrivals, end, area, throat, p_beyond, standing) < 0.0
        if passes and p_beyond < standing:
            return arrivals.behind[end], arrivals.p[end], arrivals.rho[end]
        low = max(low, standing)
    high = 2.0 * low
    while spare_of_throat(arrivals, end, area, throat, p_beyond, high) > 0.0 and high < 1e9:
        low, high = high, 2.0 * high
    for _ in range(HALVINGS):
        p = 0.5 * (low + high)
        if spare_of_throat(arrivals, end, area, throat, p_beyond, p) > 0.0:
            low = p
        else:
            high = p
    v, rho = behind_wave(arrivals, end, high)
    return v, high, rho


@routine
def throttled_from_mean(net, end, throat, p_beyond, target):
    """Gas of the mean state of the last cell against a throat."""
    ends, arrivals, nodes = ends_of(net), arrivals_of(net), nodes_at(net, target)
    node = ends.node[end]
    v, p, rho = ahead_of_throat(arrivals, end, mesh_of(net).area[node], throat, p_beyond)
    nodes.u[node], nodes.p[node], nodes.rho[node] = ends.side[end] * v, p, rho
    nodes.yf[node], nodes.yb[node], nodes.gamma[node] = (
        arrivals.yf[end],
        arrivals.yb[end],
        arrivals.gamma[end],
    )
    nodes.a[node] = sqrt(arrivals.gamma[end] * p / rho)
