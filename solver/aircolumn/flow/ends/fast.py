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
def meet_fast(b, k, tau, rho_e, a_e):
    """End ``k`` where the node before it is supersonic, outward.

    If the cell between and the end node are too, the other wave comes from inside as well (z_behind
    > 0). Otherwise a shock stands in the cell: what meets the space outside is the cell's mean
    (z_behind < 0; rho, p, a2 and behind, the outward speed, are then those of the mean). So it is
    ahead of a throat, which lets no supersonic flow through unless it is as wide as the bore.
    """
    mesh, prof, old = mesh_of(b), profile_of(b), nodes_at(b, OLD)
    ends, arr = ends_of(b), arrivals_of(b)
    c, j, side = ends.cell[k], ends.node[k], ends.side[k]
    rho, u, p, g, yf, yb = path_foot(prof, c, 0.5)
    a = prof.a0[c] + 0.5 * (prof.a1[c] + 0.5 * prof.a2[c])
    if ends.kind[k] == OPENING and side * u > a and side * old.u[j] > old.a[j]:
        slope = 0.5 * side * (old.u[j] + old.u[j - side]) - 0.5 * (old.a[j] + old.a[j - side])
        reach = slope * tau * mesh.per_dx[c]
        s, taper = (1.0 - reach, mesh.taper_r[c]) if side > 0 else (reach, mesh.taper_l[c])
        value, z, _, _ = along_wave(mesh, prof, c, s, -1.0 * side, taper, tau, rho_e, a_e)
        arr.behind[k], arr.z_behind[k] = value, z
    else:
        arr.rho[k], arr.p[k], arr.a2[k], arr.gamma[k] = rho, p, g * p / rho, g
        arr.yf[k], arr.yb[k], arr.behind[k] = yf, yb, side * u
        arr.z_behind[k] = -1.0
        if ends.kind[k] == STEP:
            arr.value[k], _ = at_speed(arr, k, 0.0)
            arr.z[k] = rho * a


@inlined
def at_speed(arr, k, v):
    """Pressure and density of gas of the mean that has come to outward speed ``v``: f solved for p.
    Through a shock that runs back at W in the gas ahead, with d = u - v,

        W = (gamma+1) d / 4 + sqrt(((gamma+1) d / 4)^2 + a^2),  p = p_k + rho_k W d,
        rho = rho_k W / (W - d).
    """
    rho, p, d, g, a2 = arr.rho[k], arr.p[k], arr.behind[k] - v, arr.gamma[k], arr.a2[k]
    if d > 0.0:
        half = 0.25 * (g + 1.0) * d
        w = half + sqrt(half * half + a2)
        return p + rho * w * d, rho * w / (w - d)
    cooler = max(1.0 + 0.5 * (g - 1.0) * d / sqrt(a2), 0.1)  # of the speed of sound, in a fan
    density = cooler ** (2.0 / (g - 1.0))
    return p * density * cooler * cooler, rho * density


@routine
def leave_from_mean(b, k, p0, target):
    """Gas of the mean state of the last cell against the pressure outside: the Riemann problem of
    one wave (Toro, section 4.3). Returns whether it flows out."""
    ends, arr, nodes = ends_of(b), arrivals_of(b), nodes_at(b, target)
    rho, p, v, g, a = arr.rho[k], arr.p[k], arr.behind[k], arr.gamma[k], sqrt(arr.a2[k])
    fall, _ = wave_side(p0, p, rho, a, g)
    if v - fall <= 0.0:
        return False
    rho, v, p = beside_contact(p0, v - fall, rho, v, p, a, g)
    j = ends.node[k]
    nodes.u[j], nodes.p[j], nodes.rho[j] = ends.side[k] * v, p, rho
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = arr.yf[k], arr.yb[k], g
    nodes.a[j] = sqrt(g * p / rho)
    return True


@inlined
def behind_wave(arr, k, p):
    """Outward speed and density of gas of the mean behind the shock that brings it to ``p``."""
    rho, p_k, u, g, a = arr.rho[k], arr.p[k], arr.behind[k], arr.gamma[k], sqrt(arr.a2[k])
    fall, _ = wave_side(p, p_k, rho, a, g)
    share, ratio = (g - 1.0) / (g + 1.0), p / p_k
    return max(u - fall, 0.0), rho * (ratio + share) / (share * ratio + 1.0)


@inlined
def spare_of_throat(arr, k, area, throat, p_beyond, p):
    """Flow of the duct less that of the throat, kg/s, with ``p`` ahead of it; falls with p."""
    v, rho = behind_wave(arr, k, p)
    g = arr.gamma[k]
    p0, rho0 = stagnation(p, rho, v, g)
    return area * rho * v - throat * mass_flux(p0, rho0, g, p_beyond)


@inlined
def ahead_of_throat(arr, k, area, throat, p_beyond):
    """Outward speed, pressure and density of gas of the mean ahead of a throat of area ``throat``
    (m2) into ``p_beyond``: a shock runs back, or stands, so strong that the throat passes what
    follows it. A throat that passes all that follows a standing one swallows it, and the gas goes
    on faster than sound (Kantrowitz & Donaldson, NACA ACR L5D20, 1945)."""
    mach2 = arr.behind[k] * arr.behind[k] / arr.a2[k]
    low = max(p_beyond, arr.p[k])
    if arr.behind[k] > 0.0 and mach2 > 1.0:
        standing = behind_shock(arr.p[k], mach2, arr.gamma[k])
        passes = spare_of_throat(arr, k, area, throat, p_beyond, standing) < 0.0
        if passes and p_beyond < standing:
            return arr.behind[k], arr.p[k], arr.rho[k]
        low = max(low, standing)
    high = 2.0 * low
    while spare_of_throat(arr, k, area, throat, p_beyond, high) > 0.0 and high < 1e9:
        low, high = high, 2.0 * high
    for _ in range(HALVINGS):
        p = 0.5 * (low + high)
        if spare_of_throat(arr, k, area, throat, p_beyond, p) > 0.0:
            low = p
        else:
            high = p
    v, rho = behind_wave(arr, k, high)
    return v, high, rho


@routine
def throttled_from_mean(b, k, throat, p_beyond, target):
    """Gas of the mean state of the last cell against a throat."""
    ends, arr, nodes = ends_of(b), arrivals_of(b), nodes_at(b, target)
    j = ends.node[k]
    v, p, rho = ahead_of_throat(arr, k, mesh_of(b).area[j], throat, p_beyond)
    nodes.u[j], nodes.p[j], nodes.rho[j] = ends.side[k] * v, p, rho
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = arr.yf[k], arr.yb[k], arr.gamma[k]
    nodes.a[j] = sqrt(arr.gamma[k] * p / rho)
