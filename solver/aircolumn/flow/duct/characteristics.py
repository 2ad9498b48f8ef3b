"""Node states from the three characteristics that reach a node; the heart of both duct members.

In a duct of area F(x) with wall friction phi = c u |u| (c = 2 f/D) and wall heat
(Zucrow & Hoffman, Gas Dynamics vol. 2, ch. 19; Benson, vol. 1):

    on dx/dt = u + a :  dp + rho a du = (A + H - rho a phi) dt
    on dx/dt = u - a :  dp - rho a du = (A + H + rho a phi) dt
    on dx/dt = u     :  dp - a^2 drho = H dt,   dY = 0
    A = -rho a^2 u F'/F,   H = (gamma - 1)(q + rho u phi)

Each relation is integrated from its foot to the node with rho a and a^2 averaged over foot and
end. The area source is taken at both too, the end's part implicitly. Friction and heat are taken
in the middle of the cell the path lies in, at the start for the half step and at half time for the
full step (walls.py), which is second order. A first pass sketches the end from the old node state,
a second uses that end; the full step starts from the half step extrapolated and needs one
pass. The wave path lies inside one cell, so a kink in F(x) at a node does no harm.
"""

from math import sqrt

from aircolumn.flow.arrays.ducts import VECTOR
from aircolumn.flow.compiled.decorators import inlined, kernel

#: of the half-time value: most that a quantity is taken to change from half to full time. Flow and sound
#: change by some per cent a step; where a contact passes, the straight continuation overshoots.
MOST_TURN = 0.3
FAST = 0.9  # Mach number above which a node is traced as if supersonic (it may become so)


@inlined
def along_wave(mesh, profile, j, s, sign, taper_e, tau, rho_e, a_e):
    """A wave (sign +1: C+, -1: C-) from its foot at ``s`` in cell ``j`` to a node of that cell.

    taper_e: d ln F/dx at that node, seen from the cell. Returns (K, Z, u and a at the foot) of the
    relation p + sign Z u = K at the node, in which the area source at the node is part of Z
    (implicit) and all other sources are part of K.
    """
    rho = profile.r0[j] + s * (profile.r1[j] + s * profile.r2[j])
    u = profile.u0[j] + s * (profile.u1[j] + s * profile.u2[j])
    p = profile.p0[j] + s * (profile.p1[j] + s * profile.p2[j])
    a = profile.a0[j] + s * (profile.a1[j] + s * profile.a2[j])
    taper = mesh.taper_l[j] + s * (mesh.taper_r[j] - mesh.taper_l[j])
    z_f = rho * a
    z_e = rho_e * a_e
    z = 0.5 * (z_f + z_e)
    half = 0.5 * tau
    k = p + sign * u * (z - sign * half * z_f * a * taper)
    k += tau * (profile.heating[j] - sign * z * profile.braking[j])
    return k, z + sign * half * z_e * a_e * taper_e, u, a


@inlined
def along_plus(mesh, profile, j, tau, speed, rho_e, a_e):
    """C+ wave of slope ``speed`` inside cell ``j`` to its right node (see along_wave)."""
    s = 1.0 - speed * tau * mesh.per_dx[j]
    return along_wave(mesh, profile, j, s, 1.0, mesh.taper_r[j], tau, rho_e, a_e)


@inlined
def along_minus(mesh, profile, j, tau, speed, rho_e, a_e):
    """C- wave of slope ``speed`` inside cell ``j`` to its left node (see along_wave)."""
    s = -speed * tau * mesh.per_dx[j]
    return along_wave(mesh, profile, j, s, -1.0, mesh.taper_l[j], tau, rho_e, a_e)


@inlined
def path_foot(profile, j, s):
    """State carried by the particle path: rho, u, p, gamma, yf, yb at ``s`` in cell ``j``."""
    return (
        profile.r0[j] + s * (profile.r1[j] + s * profile.r2[j]),
        profile.u0[j] + s * (profile.u1[j] + s * profile.u2[j]),
        profile.p0[j] + s * (profile.p1[j] + s * profile.p2[j]),
        profile.g0[j] + s * (profile.g1[j] + s * profile.g2[j]),
        profile.f0[j] + s * (profile.f1[j] + s * profile.f2[j]),
        profile.b0[j] + s * (profile.b1[j] + s * profile.b2[j]),
    )


@inlined
def along_path(mesh, profile, j, tau, drift):
    """Particle path of slope ``drift`` ending at node ``j``: the upstream of both possible feet.

    Returns rho, u, p, gamma, yf, yb at the foot and the heating of the cell it lies in.
    """
    rl, ul, pl, gl, fl, bl = path_foot(profile, j - 1, 1.0 - drift * tau * mesh.per_dx[j - 1])
    rr, ur, pr, gr, fr, br = path_foot(profile, j, -drift * tau * mesh.per_dx[j])
    right = drift > 0.0  # moving right: comes from the left cell
    return (
        rl if right else rr,
        ul if right else ur,
        pl if right else pr,
        gl if right else gr,
        fl if right else fr,
        bl if right else br,
        profile.heating[j - 1] if right else profile.heating[j],
    )


@inlined
def density_on_path(tau, p, rho_f, p_f, gamma_f, heating, a_e):
    """Density at the node from dp - a^2 drho = H dt along the particle path."""
    return rho_f + 2.0 * rho_f * (p - p_f - tau * heating) / (gamma_f * p_f + rho_f * a_e * a_e)


@inlined
def meeting(plus, minus):
    """u and p where p + Z u = K (plus) and p - Z u = K (minus)."""
    total = 1.0 / (plus[1] + minus[1])
    return (plus[0] - minus[0]) * total, (minus[1] * plus[0] + plus[1] * minus[0]) * total


SHOCK = 0.87  # (gamma + 1) / (2 gamma), within 2 % for gamma from 1.3 to 1.4


@inlined
def sonic_share(own, upstream, downstream, a_e):
    """Share of the ``downstream`` side in the wave that runs against the flow, near sonic flow.

    own: the wave that runs with the flow. With the upstream side's wave it gives the state before
    the other wave, with the downstream side's the state behind it (Toro, Riemann Solvers, sections
    4.4 and 4.5). If that wave compresses it is a shock of speed
    u - a sqrt(1 + (gamma+1)/(2 gamma) (p2/p1 - 1)): the node lies behind it if it runs upstream. If
    it is a fan whose slope changes sign, the node is sonic: the sides are mixed to Mach number 1.
    """
    before, p_before = against(own, upstream)
    behind, p_behind = against(own, downstream)
    before, behind = before / a_e, behind / a_e
    rise = p_behind / max(p_before, 1e-3 * p_behind) - 1.0
    shock = 1.0 if before * before < 1.0 + SHOCK * rise else 0.0
    fan = (1.0 - before) / (behind - before) if behind > 1.0 else 1.0
    fan = 0.0 if before >= 1.0 else fan
    return shock if p_behind > p_before else fan


@inlined
def against(own, other):
    """Speed with the flow, and pressure, where a wave that runs with it meets one against it."""
    total = 1.0 / (own[1] + other[1])
    return (own[0] - other[0]) * total, (other[1] * own[0] + own[1] * other[0]) * total


@inlined
def mixed_state(one, other, share):
    """Wave relation between ``one`` (share 0) and ``other`` (share 1)."""
    return (
        one[0] + share * (other[0] - one[0]),
        one[1] + share * (other[1] - one[1]),
        one[2] + share * (other[2] - one[2]),
        one[3] + share * (other[3] - one[3]),
    )


@inlined
def either(first, one, other):
    """``one`` if ``first``, else ``other``, number by number: a loop over places stays a vector."""
    return (
        one[0] if first else other[0],
        one[1] if first else other[1],
        one[2] if first else other[2],
        one[3] if first else other[3],
    )


@inlined
def near_sonic(right, plus, minus, from_left, from_right, a_e):
    """Both waves to a node where both may run the same way; right: whether the flow does.

    The wave against the flow comes from the upstream side, the downstream side, or, at a sonic
    node, from between; from_left, from_right: it, found in the cell to either side.
    """
    own = either(right, plus, minus)
    upstream = either(right, from_left, from_right)
    downstream = either(right, from_right, from_left)
    other = mixed_state(upstream, downstream, sonic_share(own, upstream, downstream, a_e))
    return either(right, plus, other), either(right, other, minus)


@inlined
def sketch_wave(mesh, profile, j, s, sign, taper_e, tau, rho, a_e):
    """As along_wave to first order: the area source at the node is taken for the whole path, and
    ``rho``, the mean density of node and next node, for that at the foot.

    Returns (K, Z, u and a at the foot).
    """
    u = profile.u0[j] + s * (profile.u1[j] + s * profile.u2[j])
    p = profile.p0[j] + s * (profile.p1[j] + s * profile.p2[j])
    a = profile.a0[j] + s * (profile.a1[j] + s * profile.a2[j])
    z = 0.5 * rho * (a + a_e)
    k = p + tau * profile.heating[j]
    return k + z * (sign * (u - tau * profile.braking[j]) - tau * a_e * u * taper_e), z, u, a


@inlined
def both_sketches(mesh, profile, old, j, tau):
    """Sketches of both waves to node ``j`` in subsonic flow: C+, then C-."""
    i, k = j - 1, j + 1
    u, a, rho = old.u[j], old.a[j], old.rho[j]
    s, t = 1.0 - (u + a) * tau * mesh.per_dx[i], (a - u) * tau * mesh.per_dx[j]
    left, right = 0.5 * (rho + old.rho[i]), 0.5 * (rho + old.rho[k])
    plus = sketch_wave(mesh, profile, i, s, 1.0, mesh.taper_r[i], tau, left, a)
    return plus, sketch_wave(mesh, profile, j, t, -1.0, mesh.taper_l[j], tau, right, a)


@inlined
def both_sketches_upstream(mesh, profile, old, j, tau):
    """As both_sketches where both waves may run the same way (near_sonic)."""
    i, k = j - 1, j + 1
    u, a, rho = old.u[j], old.a[j], old.rho[j]
    left, right = 0.5 * (rho + old.rho[i]), 0.5 * (rho + old.rho[k])
    plus, minus = both_sketches(mesh, profile, old, j, tau)
    sign = -1.0 if u > 0.0 else 1.0
    slope = u + sign * a
    s, t = 1.0 - max(slope, 0.0) * tau * mesh.per_dx[i], -min(slope, 0.0) * tau * mesh.per_dx[j]
    from_left = sketch_wave(mesh, profile, i, s, sign, mesh.taper_r[i], tau, left, a)
    from_right = sketch_wave(mesh, profile, j, t, sign, mesh.taper_l[j], tau, right, a)
    return near_sonic(u > 0.0, plus, minus, from_left, from_right, a)


@inlined
def both_waves(mesh, profile, j, tau, fast, slow, rho_e, a_e):
    """Both waves to node ``j`` in subsonic flow: (K, Z, u, a at the foot) of C+, then of C-."""
    plus = along_plus(mesh, profile, j - 1, tau, fast, rho_e, a_e)
    return plus, along_minus(mesh, profile, j, tau, slow, rho_e, a_e)


@inlined
def both_waves_upstream(mesh, profile, j, tau, fast, slow, rho_e, a_e):
    """As both_waves where both waves may run the same way (near_sonic)."""
    i, right = j - 1, fast + slow > 0.0
    plus, minus = both_waves(mesh, profile, j, tau, fast, slow, rho_e, a_e)
    sign, slope = -1.0 if right else 1.0, slow if right else fast
    s, t = 1.0 - max(slope, 0.0) * tau * mesh.per_dx[i], -min(slope, 0.0) * tau * mesh.per_dx[j]
    from_left = along_wave(mesh, profile, i, s, sign, mesh.taper_r[i], tau, rho_e, a_e)
    from_right = along_wave(mesh, profile, j, t, sign, mesh.taper_l[j], tau, rho_e, a_e)
    return near_sonic(right, plus, minus, from_left, from_right, a_e)


@inlined
def arrival(mesh, profile, j, tau, drift, plus, minus, a_e):
    """State of node ``j`` (rho, u, p, gamma, yf, yb) from its waves and its particle path, and u at
    the path's foot."""
    rho_f, u_f, p_f, gamma, yf, yb, heating = along_path(mesh, profile, j, tau, drift)
    u, p = meeting(plus, minus)
    rho = density_on_path(tau, p, rho_f, p_f, gamma, heating, a_e)
    return (rho, u, p, gamma, yf, yb), u_f


@inlined
def put(target, j, state, mask):
    """Write a state into node ``j`` of ``target`` if it is ``mask``."""
    rho, u, p, gamma, yf, yb = state
    target.rho[j] = rho if mask else target.rho[j]
    target.u[j] = u if mask else target.u[j]
    target.p[j] = p if mask else target.p[j]
    target.gamma[j] = gamma if mask else target.gamma[j]
    target.yf[j] = yf if mask else target.yf[j]
    target.yb[j] = yb if mask else target.yb[j]


@inlined
def extrapolate(half, old):
    """2 half - old for a positive quantity, the change limited to MOST_TURN of ``half``: where a
    contact or a flow reversal passes the node the straight continuation would leave all sense."""
    change = min(max(half - old, -MOST_TURN * half), MOST_TURN * half)
    return half + change


@inlined
def half_way(mesh, profile, old, half, feet, j, tau, sketches, waves, mask):
    """Node ``j`` after ``tau`` (half the step) in two passes, if it is ``mask``.

    The first is of first order (local error tau^2) and takes the density change as isentropic,
    enough to find the end of the second and the slope of its paths. The particle path starts midway
    between the feet of the waves. ``feet`` receives the slopes at the feet, from which the full
    step extrapolates its own.
    """
    a, rho = old.a[j], old.rho[j]
    plus, minus = sketches(mesh, profile, old, j, tau)
    stiffness, total = rho * a * a, plus[1] + minus[1]
    per = 1.0 / (stiffness * total)  # one division for what meeting() gives and dp / (rho a^2)
    u1 = (plus[0] - minus[0]) * stiffness * per
    rise = (minus[1] * plus[0] + plus[1] * minus[0] - total * old.p[j]) * per
    rho1, a1 = rho * (1.0 + rise), a * (1.0 + 0.5 * (old.gamma[j] - 1.0) * rise)
    drift = 0.25 * (plus[2] + minus[2]) + 0.5 * u1
    fast, slow = 0.5 * (plus[2] + plus[3] + u1 + a1), 0.5 * (minus[2] - minus[3] + u1 - a1)
    plus, minus = waves(mesh, profile, j, tau, fast, slow, rho1, a1)
    state, u_f = arrival(mesh, profile, j, tau, drift, plus, minus, a1)
    put(half, j, state, mask)
    half.a[j] = sqrt(half.gamma[j] * half.p[j] / half.rho[j])
    feet.drift[j] = u_f if mask else feet.drift[j]
    feet.fast[j] = plus[2] + plus[3] if mask else feet.fast[j]
    feet.slow[j] = minus[2] - minus[3] if mask else feet.slow[j]


@inlined
def whole_way(mesh, profile, old, half, new, feet, j, tau, waves, mask):
    """Node ``j`` after the full step ``tau`` in one pass, if it is ``mask``.

    The end state is the half step extrapolated, 2 half - old; the foot lies about twice as far
    off as that of the half step, so its slope is 2 feet - old. Both are second order, and the
    mean slope is their average.
    """
    rho_e = extrapolate(half.rho[j], old.rho[j])
    a_e = extrapolate(half.a[j], old.a[j])
    u_turn = half.u[j] - old.u[j]
    a_turn = a_e - half.a[j]
    fast = feet.fast[j] + u_turn + a_turn
    slow = feet.slow[j] + u_turn - a_turn
    plus, minus = waves(mesh, profile, j, tau, fast, slow, rho_e, a_e)
    state, _ = arrival(mesh, profile, j, tau, feet.drift[j] + u_turn, plus, minus, a_e)
    put(new, j, state, mask)


@inlined
def is_fast(old, j):
    """Whether node ``j`` is supersonic or nearly so."""
    return abs(old.u[j]) > FAST * old.a[j]


@inlined
def any_fast(old, first, count):
    """Whether any of the ``count`` nodes from ``first`` on is (seldom: the second look then costs
    little)."""
    found = 0
    for i in range(count):
        found += is_fast(old, first + i)
    return found > 0


@inlined
def half_way_upstream(mesh, profile, old, half, target, feet, j, tau, mask):
    """As half_way for a node near sonic flow; ``target`` is ``half``."""
    sketches, waves = both_sketches_upstream, both_waves_upstream
    half_way(mesh, profile, old, target, feet, j, tau, sketches, waves, mask)


@inlined
def whole_way_upstream(mesh, profile, old, half, target, feet, j, tau, mask):
    """As whole_way for a node near sonic flow."""
    whole_way(mesh, profile, old, half, target, feet, j, tau, both_waves_upstream, mask)


@inlined
def retrace_near_sonic(way, mesh, profile, old, half, target, feet, last, tau):
    """Nodes near sonic flow once more, by ``way`` with their own feet, and the vector they lie in
    with them."""
    if any_fast(old, 1, last - 1):
        for first in range(1, last, VECTOR):
            count = min(VECTOR, last - first)
            if any_fast(old, first, count):
                for j in range(first, first + count):
                    way(mesh, profile, old, half, target, feet, j, tau, is_fast(old, j))


# Loops start at the literal 1: with a start that could be negative every index would be checked for
# wrapping round, and the compiler would gather instead of load.


@kernel
def half_step(mesh, profile, old, half, feet, last, tau):
    """All nodes up to ``last`` at half time."""
    for j in range(1, last):
        half_way(mesh, profile, old, half, feet, j, tau, both_sketches, both_waves, True)
    retrace_near_sonic(half_way_upstream, mesh, profile, old, half, half, feet, last, tau)


@kernel
def full_step(mesh, profile, old, half, new, feet, last, tau):
    """All nodes up to ``last`` at full time."""
    for j in range(1, last):
        whole_way(mesh, profile, old, half, new, feet, j, tau, both_waves, True)
    retrace_near_sonic(whole_way_upstream, mesh, profile, old, half, new, feet, last, tau)
