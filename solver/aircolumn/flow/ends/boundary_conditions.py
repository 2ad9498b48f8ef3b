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
    middle_of,
    nodes_at,
    profile_of,
    states_of,
    valves_of,
)
from aircolumn.flow.arrays.ends import (
    CALM,
    CLOSED,
    JOIN,
    JUNCTION,
    OPENING,
    PISTON,
    PRESSURE,
    RESTRICTION,
    STEP,
    VELOCITY,
)
from aircolumn.flow.compiled.decorators import inlined, plain_integers, routine
from aircolumn.flow.compiled.lookup import table_value
from aircolumn.flow.duct.characteristics import along_minus, along_plus, extrapolate, path_foot
from aircolumn.flow.ends.bore_change import sudden_step
from aircolumn.flow.ends.fast import holds_back, leave_from_mean, throttled_from_mean, trace_supersonic_end
from aircolumn.flow.ends.junction import junction
from aircolumn.flow.ends.mouth_and_throat import (
    inflow_density,
    leaving_density,
    out_of_volume_through_mouth,
    through_throat,
)
from aircolumn.flow.ends.over_time import entering, signal_value

FIRST_HALF, SECOND_HALF, FULL = plain_integers(3)
LEAST_PRESSURE = 0.3  # at a wall, of that in the cell beside it
LEAST_SOUND = 0.05


@inlined
def throat_areas(net, end, angle):
    """Effective throat areas for flow into the volume (the cylinder, of a valve) and out of it, m2."""
    ends, valves = ends_of(net), valves_of(net)
    row = ends.valve[end]
    if row < 0:
        return ends.throat[end], ends.throat[end]
    a = angle - valves.offset[row]
    return table_value(valves.into_cylinder, row, a), table_value(valves.out_of_cylinder, row, a)


@inlined
def trace_to_end(mesh, profile, ends, arrivals, end, tau, fast, slow, drift, rho_e, a_e):
    """Trace the wave and the particle path that reach end ``end``; fills its row of ``arrivals``."""
    c = ends.cell[end]
    arrivals.fast[end], arrivals.slow[end] = fast, slow
    if ends.side[end] > 0:
        invariant, impedance, u, a = along_plus(mesh, profile, c, tau, fast, rho_e, a_e)
        arrivals.fast[end] = u + a
        s = 1.0 - max(drift, 0.0) * tau * mesh.per_dx[c]
    else:
        invariant, impedance, u, a = along_minus(mesh, profile, c, tau, slow, rho_e, a_e)
        arrivals.slow[end] = u - a
        s = -min(drift, 0.0) * tau * mesh.per_dx[c]
    rho, u, p, g, yf, yb = path_foot(profile, c, s)
    a2 = g * p / rho
    arrivals.invariant[end], arrivals.impedance[end] = invariant, impedance
    arrivals.rho[end] = rho - tau * profile.heating[c] / a2
    arrivals.p[end], arrivals.a2[end], arrivals.gamma[end] = p, a2, g
    arrivals.yf[end], arrivals.yb[end], arrivals.drift[end] = yf, yb, u
    arrivals.impedance_behind[end] = 0.0


@routine
def from_inside(net, end, v, p, target):
    """End node whose gas came along the duct."""
    ends, arrivals, nodes = ends_of(net), arrivals_of(net), nodes_at(net, target)
    node = ends.node[end]
    rho = leaving_density(p, arrivals.rho[end], arrivals.p[end], arrivals.a2[end])
    nodes.u[node], nodes.p[node], nodes.rho[node] = v * ends.side[end], p, rho
    nodes.yf[node], nodes.yb[node], nodes.gamma[node] = (
        arrivals.yf[end],
        arrivals.yb[end],
        arrivals.gamma[end],
    )
    nodes.a[node] = sqrt(arrivals.gamma[end] * p / rho)


@routine
def from_volume(net, end, w, p, target):
    """End node whose gas comes in from the volume at inward speed ``w``."""
    ends, states, nodes = ends_of(net), states_of(net), nodes_at(net, target)
    node, volume = ends.node[end], ends.volume[end]
    rho = inflow_density(p, w, states.p[volume], states.leaving[volume], states.gamma[volume])
    nodes.u[node], nodes.p[node], nodes.rho[node] = -w * ends.side[end], p, rho
    nodes.yf[node], nodes.yb[node], nodes.gamma[node] = (
        states.yf[volume],
        states.yb[volume],
        states.gamma[volume],
    )
    nodes.a[node] = sqrt(states.gamma[volume] * p / rho)


@routine
def wall(net, end, v, target):
    """Rigid wall that moves outward at ``v``.

    The relation along the arriving wave is linear in the change it crosses and finds no pressure where gas
    is pulled off at about the speed of sound or faster: there the rarefaction between the cell beside it
    and the wall is taken (Toro, Riemann Solvers, 4.3.2; ``LEAST_SOUND``: what stays of its sound speed where
    nothing would be left), and the cell counts as steep.
    """
    ends, arrivals, middles = ends_of(net), arrivals_of(net), middle_of(net)
    p, c = arrivals.invariant[end] - arrivals.impedance[end] * v, ends.cell[end]
    if p > LEAST_PRESSURE * middles.p[c]:
        from_inside(net, end, v, p, target)
        return
    g, nodes, node = middles.gamma[c], nodes_at(net, target), ends.node[end]
    base = 1.0 + 0.5 * (g - 1.0) * (ends.side[end] * middles.u[c] - v) / middles.a[c]
    ratio = max(base, LEAST_SOUND) ** (2.0 * g / (g - 1.0))
    from_inside(net, end, v, middles.p[c] * ratio, target)
    nodes.rho[node] = middles.rho[c] * ratio ** (1.0 / g)
    nodes.a[node] = sqrt(g * nodes.p[node] / nodes.rho[node])
    middles.steep[c] = 1.0


@routine
def calm_end(net, end, target):
    """The arriving wave leaves; the other Riemann invariant is that of gas at rest beyond.

    Meets p + Z v = K with the simple wave p = p0 (1 + (gamma-1)/2 v/a0)^(2 gamma/(gamma-1))
    (Landau & Lifshitz section 101) by Newton; exact for isentropic waves of any strength.
    """
    ends, arrivals = ends_of(net), arrivals_of(net)
    p0, g = ends.p[end], arrivals.gamma[end]
    a0 = sqrt(g * p0 / ends.rho[end])
    v = (arrivals.invariant[end] - p0) / (2.0 * arrivals.impedance[end])
    p = p0
    for _ in range(4):
        base = max(1.0 + 0.5 * (g - 1.0) * v / a0, 0.1)
        p = p0 * base ** (2.0 * g / (g - 1.0))
        slope = g * p / (a0 * base) + arrivals.impedance[end]
        v -= (p + arrivals.impedance[end] * v - arrivals.invariant[end]) / slope
    p = arrivals.invariant[end] - arrivals.impedance[end] * v
    from_inside(net, end, v, p, target)
    if v < 0.0:
        nodes_at(net, target).rho[ends.node[end]] = ends.rho[end] + (p - p0) / arrivals.a2[end]


@routine
def pressure_end(net, end, time, target):
    """End node at the pressure of its signal (over_time.py)."""
    ends, arrivals = ends_of(net), arrivals_of(net)
    p = signal_value(net, ends.signal[end], time)
    invariant, impedance, sound = arrivals.invariant[end], arrivals.impedance[end], sqrt(arrivals.a2[end])
    if invariant >= p:
        v = min((invariant - p) / impedance, sound)
        from_inside(net, end, v, invariant - impedance * v, target)
    else:
        w = min((p - invariant) / impedance, sound)
        entering(net, end, w, invariant + impedance * w, target)


@routine
def opening(net, end, earlier, target):
    """Full bore into a volume: outflow at the volume's pressure, inflow from rest with a loss."""
    ends, states, arrivals = ends_of(net), states_of(net), arrivals_of(net)
    volume = ends.volume[end]
    p0 = states.p[volume]
    if arrivals.impedance_behind[end] < 0.0 and leave_from_mean(net, end, p0, target):
        return
    if arrivals.impedance_behind[end] > 0.0:
        v = (arrivals.invariant[end] - arrivals.behind[end]) / (
            arrivals.impedance[end] + arrivals.impedance_behind[end]
        )
        p = arrivals.invariant[end] - arrivals.impedance[end] * v
        mach2 = (
            v
            * v
            * leaving_density(p, arrivals.rho[end], arrivals.p[end], arrivals.a2[end])
            / (arrivals.gamma[end] * p)
        )
        if v > 0.0 and mach2 > 1.0 and not holds_back(p0, p, mach2, arrivals.gamma[end]):
            from_inside(net, end, v, p, target)
            return
    if arrivals.invariant[end] >= p0:
        # Otherwise outflow is sonic at most.
        v = min((arrivals.invariant[end] - p0) / arrivals.impedance[end], sqrt(arrivals.a2[end]))
        from_inside(net, end, v, arrivals.invariant[end] - arrivals.impedance[end] * v, target)
    else:
        guess = -ends.side[end] * nodes_at(net, earlier).u[ends.node[end]]
        w, p = out_of_volume_through_mouth(
            arrivals.invariant[end],
            arrivals.impedance[end],
            p0,
            states.leaving[volume],
            states.gamma[volume],
            ends.loss[end],
            guess,
        )
        from_volume(net, end, w, p, target)


@routine
def restriction(net, end, angle, earlier, target):
    """Throat between bore and volume; shut, it is a wall."""
    ends, states, arrivals = ends_of(net), states_of(net), arrivals_of(net)
    volume = ends.volume[end]
    p0, invariant, impedance = states.p[volume], arrivals.invariant[end], arrivals.impedance[end]
    into, out_of = throat_areas(net, end, angle)  # the volume
    area = mesh_of(net).area[ends.node[end]]
    if arrivals.impedance_behind[end] < 0.0:
        wide = into >= area and leave_from_mean(net, end, p0, target)
        if not wide:
            throttled_from_mean(net, end, into, p0, target)
        return
    guess, ratio = nodes_at(net, earlier).p[ends.node[end]], arrivals.slope_ratio[end]
    if invariant > p0 and into > 0.0:
        foot = arrivals.p[end], arrivals.rho[end], arrivals.gamma[end], arrivals.a2[end]
        leaving = invariant, impedance, area, min(into, area), *foot, p0
        p, arrivals.slope_ratio[end] = through_throat(True, leaving, guess, ratio)
        from_inside(net, end, (invariant - p) / impedance, p, target)
    elif invariant < p0 and out_of > 0.0:
        rho0, gamma = states.leaving[volume], states.gamma[volume]
        entering = invariant, impedance, area, min(out_of, area), p0, rho0, gamma, 0.0, 0.0
        p, arrivals.slope_ratio[end] = through_throat(False, entering, guess, ratio)
        from_volume(net, end, (p - invariant) / impedance, p, target)
    else:
        arrivals.slope_ratio[end] = 0.0
        from_inside(net, end, 0.0, invariant, target)


@routine
def join(net, end, target):
    """End ``end`` and its partner meet: same pressure, what leaves one enters the other."""
    mesh, ends, arrivals, nodes = mesh_of(net), ends_of(net), arrivals_of(net), nodes_at(net, target)
    partner = ends.partner[end]
    fk = mesh.area[ends.node[end]] / arrivals.impedance[end]
    fm = mesh.area[ends.node[partner]] / arrivals.impedance[partner]
    p = (arrivals.invariant[end] * fk + arrivals.invariant[partner] * fm) / (fk + fm)
    v = (arrivals.invariant[end] - p) / arrivals.impedance[end]
    source, other = (end, partner) if v >= 0.0 else (partner, end)
    from_inside(net, source, abs(v), p, target)
    i, node = ends.node[source], ends.node[other]
    nodes.u[node] = -abs(v) * ends.side[other]
    nodes.p[node], nodes.rho[node], nodes.a[node] = p, nodes.rho[i], nodes.a[i]
    nodes.yf[node], nodes.yb[node], nodes.gamma[node] = nodes.yf[i], nodes.yb[i], nodes.gamma[i]


@inlined
def leads_ring(ends, end):
    """Whether ``end`` is the lowest end of its ring."""
    partner = ends.partner[end]
    while partner != end:
        if partner < end:
            return False
        partner = ends.partner[partner]
    return True


@routine
def trace_ends(net, stage, tau):
    """What reaches every end at one stage: at half time twice, along the slopes at the old nodes first, whose
    foot says how the path runs on average; nothing is solved in between."""
    mesh, profile, ends, arrivals = mesh_of(net), profile_of(net), ends_of(net), arrivals_of(net)
    old, half, feet = nodes_at(net, OLD), nodes_at(net, HALF), feet_of(net)
    for end in range(ends_in(net)):
        node = ends.node[end]
        u, a, rho = old.u[node], old.a[node], old.rho[node]
        fast, slow, drift = u + a, u - a, u
        if stage == SECOND_HALF:
            fast = 0.5 * (arrivals.fast[end] + u + a)
            slow = 0.5 * (arrivals.slow[end] + u - a)
            drift = 0.5 * (arrivals.drift[end] + u)
        elif stage == FULL:
            du, da = half.u[node] - u, extrapolate(half.a[node], a) - half.a[node]
            fast, slow, drift = feet.fast[node] + du + da, feet.slow[node] + du - da, feet.drift[node] + du
            a, rho = half.a[node] + da, extrapolate(half.rho[node], rho)
        trace_to_end(mesh, profile, ends, arrivals, end, tau, fast, slow, drift, rho, a)
        i = node - ends.side[end]
        kind = ends.kind[end]
        wide = kind in (OPENING, RESTRICTION, STEP)
        if wide and ends.side[end] * old.u[i] > old.a[i]:
            trace_supersonic_end(net, end, tau, rho, a)
        if stage == SECOND_HALF:
            feet.fast[node], feet.slow[node], feet.drift[node] = (
                arrivals.fast[end],
                arrivals.slow[end],
                arrivals.drift[end],
            )


@routine
def set_ends(net, stage, tau, angle, time):
    """End nodes of one stage, ``tau`` after the old ones, from what reaches them and what lies
    beyond. The pressures and speeds of the nodes before start the search."""
    ends = ends_of(net)
    earlier = HALF if stage == FULL else OLD
    target = NEW if stage == FULL else HALF
    for end in range(ends_in(net)):
        kind = ends.kind[end]
        if kind == CLOSED:
            wall(net, end, 0.0, target)
        elif kind == PISTON:
            v = ends.side[end] * ends.speed[end] * sin(2.0 * pi * ends.frequency[end] * time)
            wall(net, end, v, target)
        elif kind == VELOCITY:
            wall(net, end, ends.side[end] * signal_value(net, ends.signal[end], time), target)
        elif kind == PRESSURE:
            pressure_end(net, end, time, target)
        elif kind == CALM:
            calm_end(net, end, target)
        elif kind == OPENING:
            opening(net, end, earlier, target)
        elif kind == JOIN:
            if ends.partner[end] > end:
                join(net, end, target)
        elif kind == STEP:
            if ends.partner[end] > end:
                sudden_step(net, end, earlier, target, tau)
        elif kind == JUNCTION:
            if leads_ring(ends, end):
                junction(net, end, target)
        else:
            restriction(net, end, angle, earlier, target)
