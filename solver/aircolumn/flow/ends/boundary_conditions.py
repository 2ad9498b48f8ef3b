"""All duct ends of a network at one stage of the step."""

from math import pi, sin, sqrt

from aircolumn.flow.arrays.blocks import (
    HALF,
    NEW,
    OLD,
    arrivals_of,
    ends_in,
    ends_of,
    feet_of,
    mesh_of,
    nodes_at,
    profile_of,
    states_of,
    valves_of,
)
from aircolumn.flow.arrays.ends import CALM, CLOSED, JOIN, JUNCTION, OPENING, PISTON, RESTRICTION, STEP
from aircolumn.flow.compiled.decorators import inlined, plain_integers, routine
from aircolumn.flow.compiled.lookup import table_value
from aircolumn.flow.duct.characteristics import along_minus, along_plus, extrapolate, path_foot
from aircolumn.flow.ends.bore_change import sudden_step
from aircolumn.flow.ends.fast import holds_back, leave_from_mean, meet_fast, throttled_from_mean
from aircolumn.flow.ends.junction import junction
from aircolumn.flow.ends.mouth_and_throat import (
    inflow_density,
    leaving_density,
    opening_inflow,
    restriction_inflow,
    restriction_outflow,
)

FIRST_HALF, SECOND_HALF, FULL = plain_integers(3)
SKETCHED = 1e4  # times the tolerance of an end that is solved again at once


@inlined
def throat_areas(b, k, angle):
    """Effective throat areas outward and inward, m2."""
    ends, valves = ends_of(b), valves_of(b)
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


@routine
def from_inside(b, k, v, p, target):
    """End node whose gas came along the duct."""
    ends, arr, nodes = ends_of(b), arrivals_of(b), nodes_at(b, target)
    j = ends.node[k]
    rho = leaving_density(p, arr.rho[k], arr.p[k], arr.a2[k])
    nodes.u[j], nodes.p[j], nodes.rho[j] = v * ends.side[k], p, rho
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = arr.yf[k], arr.yb[k], arr.gamma[k]
    nodes.a[j] = sqrt(arr.gamma[k] * p / rho)


@routine
def from_volume(b, k, w, p, target):
    """End node whose gas comes in from the volume at inward speed ``w``."""
    ends, states, nodes = ends_of(b), states_of(b), nodes_at(b, target)
    j, v = ends.node[k], ends.volume[k]
    rho = inflow_density(p, w, states.p[v], states.leaving[v], states.gamma[v])
    nodes.u[j], nodes.p[j], nodes.rho[j] = -w * ends.side[k], p, rho
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = states.yf[v], states.yb[v], states.gamma[v]
    nodes.a[j] = sqrt(states.gamma[v] * p / rho)


@routine
def calm_end(b, k, target):
    """The arriving wave leaves; the other Riemann invariant is that of gas at rest beyond.

    Meets p + Z v = K with the simple wave p = p0 (1 + (gamma-1)/2 v/a0)^(2 gamma/(gamma-1))
    (Landau & Lifshitz section 101) by Newton; exact for isentropic waves of any strength.
    """
    ends, arr = ends_of(b), arrivals_of(b)
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
    from_inside(b, k, v, p, target)
    if v < 0.0:
        nodes_at(b, target).rho[ends.node[k]] = ends.rho[k] + (p - p0) / arr.a2[k]


@routine
def opening(b, k, earlier, target, slack):
    """Full bore into a volume: outflow at the volume's pressure, inflow from rest with a loss."""
    ends, states, arr = ends_of(b), states_of(b), arrivals_of(b)
    o = ends.volume[k]
    p0 = states.p[o]
    if arr.z_behind[k] < 0.0 and leave_from_mean(b, k, p0, target):
        return
    if arr.z_behind[k] > 0.0:
        v = (arr.value[k] - arr.behind[k]) / (arr.z[k] + arr.z_behind[k])
        p = arr.value[k] - arr.z[k] * v
        mach2 = v * v * leaving_density(p, arr.rho[k], arr.p[k], arr.a2[k]) / (arr.gamma[k] * p)
        if v > 0.0 and mach2 > 1.0 and not holds_back(p0, p, mach2, arr.gamma[k]):
            from_inside(b, k, v, p, target)
            return
    if arr.value[k] >= p0:
        # Otherwise outflow is sonic at most.
        v = min((arr.value[k] - p0) / arr.z[k], sqrt(arr.a2[k]))
        from_inside(b, k, v, arr.value[k] - arr.z[k] * v, target)
    else:
        guess = -ends.side[k] * nodes_at(b, earlier).u[ends.node[k]]
        w, p = opening_inflow(
            arr.value[k],
            arr.z[k],
            p0,
            states.leaving[o],
            states.gamma[o],
            ends.loss[k],
            guess,
            slack,
        )
        from_volume(b, k, w, p, target)


@routine
def restriction(b, k, angle, earlier, target, slack):
    """Throat between bore and volume; shut, it is a wall."""
    ends, states, arr = ends_of(b), states_of(b), arrivals_of(b)
    o = ends.volume[k]
    p0, value, z = states.p[o], arr.value[k], arr.z[k]
    outward, inward = throat_areas(b, k, angle)
    if arr.z_behind[k] < 0.0:
        wide = outward >= mesh_of(b).area[ends.node[k]] and leave_from_mean(b, k, p0, target)
        if not wide:
            throttled_from_mean(b, k, outward, p0, target)
        return
    area, guess = mesh_of(b).area[ends.node[k]], nodes_at(b, earlier).p[ends.node[k]]
    if value > p0 and outward > 0.0:
        p, arr.bend[k] = restriction_outflow(
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
            arr.bend[k],
            slack,
        )
        from_inside(b, k, (value - p) / z, p, target)
    elif value < p0 and inward > 0.0:
        p, arr.bend[k] = restriction_inflow(
            value,
            z,
            area,
            min(inward, area),
            p0,
            states.leaving[o],
            states.gamma[o],
            guess,
            arr.bend[k],
            slack,
        )
        from_volume(b, k, (p - value) / z, p, target)
    else:
        arr.bend[k] = 0.0
        from_inside(b, k, 0.0, value, target)


@routine
def join(b, k, target):
    """End ``k`` and its partner meet: same pressure, what leaves one enters the other."""
    mesh, ends, arr, nodes = mesh_of(b), ends_of(b), arrivals_of(b), nodes_at(b, target)
    m = ends.volume[k]
    fk = mesh.area[ends.node[k]] / arr.z[k]
    fm = mesh.area[ends.node[m]] / arr.z[m]
    p = (arr.value[k] * fk + arr.value[m] * fm) / (fk + fm)
    v = (arr.value[k] - p) / arr.z[k]
    source, other = (k, m) if v >= 0.0 else (m, k)
    from_inside(b, source, abs(v), p, target)
    i, j = ends.node[source], ends.node[other]
    nodes.u[j] = -abs(v) * ends.side[other]
    nodes.p[j], nodes.rho[j], nodes.a[j] = p, nodes.rho[i], nodes.a[i]
    nodes.yf[j], nodes.yb[j], nodes.gamma[j] = nodes.yf[i], nodes.yb[i], nodes.gamma[i]


@inlined
def leads_ring(ends, k):
    """Whether ``k`` is the lowest end of its ring."""
    m = ends.volume[k]
    while m != k:
        if m < k:
            return False
        m = ends.volume[m]
    return True


@routine
def trace_ends(b, stage, tau):
    """What reaches every end at one stage."""
    mesh, prof, ends, arr = mesh_of(b), profile_of(b), ends_of(b), arrivals_of(b)
    old, half, feet = nodes_at(b, OLD), nodes_at(b, HALF), feet_of(b)
    for k in range(ends_in(b)):
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
        kind = ends.kind[k]
        wide = kind in (OPENING, RESTRICTION, STEP)
        if wide and ends.side[k] * old.u[i] > old.a[i]:
            meet_fast(b, k, tau, rho, a)
        if stage == SECOND_HALF:
            feet.fast[j], feet.slow[j], feet.drift[j] = arr.fast[k], arr.slow[k], arr.drift[k]


@routine
def set_ends(b, stage, tau, angle, time):
    """End nodes of one stage, ``tau`` after the old ones, from what reaches them and what lies
    beyond. The pressures and speeds of the stage before start the search. FIRST_HALF only says
    where the paths of SECOND_HALF run, so it may be found less sharply."""
    ends, arr = ends_of(b), arrivals_of(b)
    slack = SKETCHED if stage == FIRST_HALF else 1.0
    earlier = OLD if stage == FIRST_HALF else HALF
    target = NEW if stage == FULL else HALF
    for k in range(ends_in(b)):
        kind = ends.kind[k]
        if kind == CLOSED:
            from_inside(b, k, 0.0, arr.value[k], target)
        elif kind == PISTON:
            v = ends.side[k] * ends.speed[k] * sin(2.0 * pi * ends.frequency[k] * time)
            from_inside(b, k, v, arr.value[k] - arr.z[k] * v, target)
        elif kind == CALM:
            calm_end(b, k, target)
        elif kind == OPENING:
            opening(b, k, earlier, target, slack)
        elif kind == JOIN:
            if ends.volume[k] > k:
                join(b, k, target)
        elif kind == STEP:
            if ends.volume[k] > k:
                sudden_step(b, k, earlier, target, tau, slack)
        elif kind == JUNCTION:
            if leads_ring(ends, k):
                junction(b, k, target, slack)
        else:
            restriction(b, k, angle, earlier, target, slack)
