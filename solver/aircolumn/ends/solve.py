"""All duct ends of a network at one stage of the step."""

from collections import namedtuple
from math import pi, sin, sqrt

from aircolumn.compiled.decorators import inlined, plain_integers, routine, small
from aircolumn.compiled.lookup import table_value
from aircolumn.duct.characteristics import (
    along_minus,
    along_plus,
    along_wave,
    extrapolate,
    path_foot,
)
from aircolumn.duct.rescue import beside_contact, wave_side
from aircolumn.ends.arrays import CALM, CLOSED, JOIN, JUNCTION, OPENING, PISTON, STEP
from aircolumn.ends.boundary import (
    inflow_density,
    leaving_density,
    opening_inflow,
    restriction_inflow,
    restriction_outflow,
)
from aircolumn.ends.junction import junction
from aircolumn.ends.step import sudden_step

#: What reaches each end: outward relation p + z v = value, the particle path's density (wall heat
#: included), pressure, a^2, composition and gamma at its foot, and the slopes found at the feet;
#: where the flow leaves faster than sound, also the other wave (see meet_fast). At a junction, out
#: and behind are the outward speed and the density of what flows (ends/junction.py).
Arrivals = namedtuple(
    "Arrivals", "value z rho p a2 yf yb gamma fast slow drift behind z_behind out"
)

FIRST_HALF, SECOND_HALF, FULL = plain_integers(3)


@inlined
def throat_areas(ends, k, valves, angle):
    """Effective throat areas outward and inward, m2."""
    row = ends.valve[k]
    if row < 0:
        return ends.throat[k], ends.throat[k]
    a = angle - valves.offset[row]
    return table_value(valves.outward, row, a), table_value(valves.inward, row, a)


@inlined
def meet(mesh, prof, ends, arr, k, tau, fast, slow, drift, rho_e, a_e):
    """Trace the wave and the particle path that reach end ``k``; fills row k of ``arr``."""
    c = ends.cell[k]
    arr.fast[k], arr.slow[k] = fast, slow
    if ends.side[k] > 0:
        value, z, u, a = along_plus(mesh, prof, c, tau, fast, rho_e, a_e)
        arr.fast[k] = u + a
        s = 1.0 - max(drift, 0.0) * tau * mesh.per_dx[c]
    else:
        value, z, u, a = along_minus(mesh, prof, c, tau, slow, rho_e, a_e)
        arr.slow[k] = u - a
        s = -min(drift, 0.0) * tau * mesh.per_dx[c]
    rho, u, p, g, yf, yb = path_foot(prof, c, s)
    a2 = g * p / rho
    arr.value[k], arr.z[k] = value, z
    arr.rho[k] = rho - tau * prof.heating[c] / a2
    arr.p[k], arr.a2[k], arr.gamma[k] = p, a2, g
    arr.yf[k], arr.yb[k], arr.drift[k] = yf, yb, u
    arr.z_behind[k] = 0.0


@small
def holds_back(p0, p, mach2, gamma):
    """Whether the pressure ``p0`` outside can push a normal shock into flow that leaves at ``p``
    and Mach number squared ``mach2``: p2/p = 1 + 2 gamma/(gamma+1) (M^2 - 1) (NACA Report 1135)."""
    return p0 >= p * (1.0 + 2.0 * gamma / (gamma + 1.0) * (mach2 - 1.0))


@routine
def meet_fast(mesh, prof, old, ends, arr, k, tau, rho_e, a_e):
    """End ``k`` where the node before it is supersonic, outward.

    If the cell between and the end node are too, the other wave comes from inside as well (z_behind
    > 0). Otherwise a shock stands in the cell: what meets the space outside is the cell's mean
    (z_behind < 0; rho, p, a2 and drift, the outward speed, are then those of the mean).
    """
    c, j, side = ends.cell[k], ends.node[k], ends.side[k]
    rho, u, p, g, yf, yb = path_foot(prof, c, 0.5)
    a = prof.a0[c] + 0.5 * (prof.a1[c] + 0.5 * prof.a2[c])
    if side * u > a and side * old.u[j] > old.a[j]:
        slope = 0.5 * side * (old.u[j] + old.u[j - side]) - 0.5 * (old.a[j] + old.a[j - side])
        reach = slope * tau * mesh.per_dx[c]
        s, taper = (1.0 - reach, mesh.taper_r[c]) if side > 0 else (reach, mesh.taper_l[c])
        value, z, _, _ = along_wave(mesh, prof, c, s, -1.0 * side, taper, tau, rho_e, a_e)
        arr.behind[k], arr.z_behind[k] = value, z
    else:
        arr.rho[k], arr.p[k], arr.a2[k], arr.gamma[k] = rho, p, g * p / rho, g
        arr.yf[k], arr.yb[k], arr.behind[k] = yf, yb, side * u
        arr.z_behind[k] = -1.0


@routine
def leave_from_mean(ends, arr, k, p0, nodes):
    """Gas of the mean state of the last cell against the pressure outside: the Riemann problem of
    one wave (Toro, section 4.3). Returns whether it flows out."""
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


@routine
def from_inside(ends, arr, k, v, p, nodes):
    """End node whose gas came along the duct."""
    j = ends.node[k]
    rho = leaving_density(p, arr.rho[k], arr.p[k], arr.a2[k])
    nodes.u[j], nodes.p[j], nodes.rho[j] = v * ends.side[k], p, rho
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = arr.yf[k], arr.yb[k], arr.gamma[k]
    nodes.a[j] = sqrt(arr.gamma[k] * p / rho)


@routine
def from_volume(ends, states, k, w, p, nodes):
    """End node whose gas comes in from the volume at inward speed ``w``."""
    j, b = ends.node[k], ends.volume[k]
    rho = inflow_density(p, w, states.p[b], states.leaving[b], states.gamma[b])
    nodes.u[j], nodes.p[j], nodes.rho[j] = -w * ends.side[k], p, rho
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = states.yf[b], states.yb[b], states.gamma[b]
    nodes.a[j] = sqrt(states.gamma[b] * p / rho)


@routine
def calm_end(ends, arr, k, nodes):
    """The arriving wave leaves; the other Riemann invariant is that of gas at rest beyond.

    Meets p + Z v = K with the simple wave p = p0 (1 + (gamma-1)/2 v/a0)^(2 gamma/(gamma-1))
    (Landau & Lifshitz section 101) by Newton; exact for isentropic waves of any strength.
    """
    p0, g = ends.p[k], arr.gamma[k]
    a0 = sqrt(g * p0 / ends.rho[k])
    v = (arr.value[k] - p0) / (2.0 * arr.z[k])
    p = p0
    for _ in range(4):
        base = max(1.0 + 0.5 * (g - 1.0) * v / a0, 0.1)
        p = p0 * base ** (2.0 * g / (g - 1.0))
        slope = g * p / (a0 * base) + arr.z[k]
        v -= (p + arr.z[k] * v - arr.value[k]) / slope
    p = arr.value[k] - arr.z[k] * v
    from_inside(ends, arr, k, v, p, nodes)
    if v < 0.0:
        nodes.rho[ends.node[k]] = ends.rho[k] + (p - p0) / arr.a2[k]


@routine
def opening(ends, states, arr, k, guess, nodes):
    """Full bore into a volume: outflow at the volume's pressure, inflow from rest with a loss."""
    b = ends.volume[k]
    p0 = states.p[b]
    if arr.z_behind[k] < 0.0 and leave_from_mean(ends, arr, k, p0, nodes):
        return
    if arr.z_behind[k] > 0.0:
        v = (arr.value[k] - arr.behind[k]) / (arr.z[k] + arr.z_behind[k])
        p = arr.value[k] - arr.z[k] * v
        mach2 = v * v * leaving_density(p, arr.rho[k], arr.p[k], arr.a2[k]) / (arr.gamma[k] * p)
        if v > 0.0 and mach2 > 1.0 and not holds_back(p0, p, mach2, arr.gamma[k]):
            from_inside(ends, arr, k, v, p, nodes)
            return
    if arr.value[k] >= p0:
        # Otherwise outflow is sonic at most.
        v = min((arr.value[k] - p0) / arr.z[k], sqrt(arr.a2[k]))
        from_inside(ends, arr, k, v, arr.value[k] - arr.z[k] * v, nodes)
    else:
        w, p = opening_inflow(
            arr.value[k], arr.z[k], p0, states.leaving[b], states.gamma[b], ends.loss[k], guess
        )
        from_volume(ends, states, k, w, p, nodes)


@routine
def restriction(mesh, ends, valves, states, arr, k, angle, guess, nodes):
    """Throat between bore and volume; shut, it is a wall."""
    b = ends.volume[k]
    p0, value, z = states.p[b], arr.value[k], arr.z[k]
    area = mesh.area[ends.node[k]]
    outward, inward = throat_areas(ends, k, valves, angle)
    if value > p0 and outward > 0.0:
        p = restriction_outflow(
            value,
            z,
            area,
            min(outward, area),
            arr.rho[k],
            arr.p[k],
            arr.a2[k],
            arr.gamma[k],
            p0,
            guess,
        )
        from_inside(ends, arr, k, (value - p) / z, p, nodes)
    elif value < p0 and inward > 0.0:
        p = restriction_inflow(
            value, z, area, min(inward, area), p0, states.leaving[b], states.gamma[b], guess
        )
        from_volume(ends, states, k, (p - value) / z, p, nodes)
    else:
        from_inside(ends, arr, k, 0.0, value, nodes)


@routine
def join(mesh, ends, arr, k, m, nodes):
    """Ends ``k`` and ``m`` meet: same pressure, what leaves one enters the other."""
    fk = mesh.area[ends.node[k]] / arr.z[k]
    fm = mesh.area[ends.node[m]] / arr.z[m]
    p = (arr.value[k] * fk + arr.value[m] * fm) / (fk + fm)
    v = (arr.value[k] - p) / arr.z[k]
    source, other = (k, m) if v >= 0.0 else (m, k)
    from_inside(ends, arr, source, abs(v), p, nodes)
    i, j = ends.node[source], ends.node[other]
    nodes.u[j] = -abs(v) * ends.side[other]
    nodes.p[j], nodes.rho[j], nodes.a[j] = p, nodes.rho[i], nodes.a[i]
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = nodes.yf[i], nodes.yb[i], nodes.gamma[i]


@routine
def leads_ring(ends, k):
    """Whether ``k`` is the lowest end of its ring."""
    m = ends.volume[k]
    while m != k:
        if m < k:
            return False
        m = ends.volume[m]
    return True


@routine
def meet_others(gas, mesh, ends, arr, k, old, earlier, target, tau):
    """Junctions and steps, once for each ring of ends."""
    if ends.kind[k] == STEP:
        if ends.volume[k] > k:
            sudden_step(gas, mesh, ends, arr, k, old, earlier, target, tau)
    elif leads_ring(ends, k):
        junction(gas, mesh, ends, arr, k, earlier, target)


@inlined
def trace_ends(mesh, prof, ends, arr, old, half, feet, stage, tau):
    """What reaches every end at one stage."""
    for k in range(ends.kind.size):
        j = ends.node[k]
        u, a, rho = old.u[j], old.a[j], old.rho[j]
        fast, slow, drift = u + a, u - a, u
        if stage == SECOND_HALF:
            u, a, rho = half.u[j], half.a[j], half.rho[j]
            fast = 0.5 * (arr.fast[k] + u + a)
            slow = 0.5 * (arr.slow[k] + u - a)
            drift = 0.5 * (arr.drift[k] + u)
        elif stage == FULL:
            du, da = half.u[j] - u, extrapolate(half.a[j], a) - half.a[j]
            fast, slow, drift = feet.fast[j] + du + da, feet.slow[j] + du - da, feet.drift[j] + du
            a, rho = half.a[j] + da, extrapolate(half.rho[j], rho)
        meet(mesh, prof, ends, arr, k, tau, fast, slow, drift, rho, a)
        i = j - ends.side[k]
        if ends.kind[k] == OPENING and ends.side[k] * old.u[i] > old.a[i]:
            meet_fast(mesh, prof, old, ends, arr, k, tau, rho, a)
        if stage == SECOND_HALF:
            feet.fast[j], feet.slow[j], feet.drift[j] = arr.fast[k], arr.slow[k], arr.drift[k]


@inlined
def set_ends(gas, rings, mesh, ends, valves, states, arr, old, earlier, target, tau, angle, time):
    """End nodes of ``target``, ``tau`` after ``old``, from what reaches them and what lies beyond.

    earlier: nodes whose pressures and speeds start the search; rings: None if there are no
    junctions and steps.
    """
    for k in range(ends.kind.size):
        kind = ends.kind[k]
        if kind == CLOSED:
            from_inside(ends, arr, k, 0.0, arr.value[k], target)
        elif kind == PISTON:
            v = ends.side[k] * ends.speed[k] * sin(2.0 * pi * ends.frequency[k] * time)
            from_inside(ends, arr, k, v, arr.value[k] - arr.z[k] * v, target)
        elif kind == CALM:
            calm_end(ends, arr, k, target)
        elif kind == OPENING:
            opening(ends, states, arr, k, -ends.side[k] * earlier.u[ends.node[k]], target)
        elif kind == JOIN:
            if ends.volume[k] > k:
                join(mesh, ends, arr, k, ends.volume[k], target)
        elif kind >= JUNCTION:
            if rings is not None:
                meet_others(gas, mesh, ends, arr, k, old, earlier, target, tau)
        else:
            restriction(mesh, ends, valves, states, arr, k, angle, earlier.p[ends.node[k]], target)
