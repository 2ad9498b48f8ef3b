"""Node states from the three characteristics that reach a node; the heart of both duct members.

In a duct of area F(x) with wall friction phi = c u |u| (c = 2 f/D) and wall heat
(Zucrow & Hoffman, Gas Dynamics vol. 2, ch. 19; Benson, vol. 1):

    on dx/dt = u + a :  dp + rho a du = (A + H - rho a phi) dt
    on dx/dt = u - a :  dp - rho a du = (A + H + rho a phi) dt
    on dx/dt = u     :  dp - a^2 drho = H dt,   dY = 0
    A = -rho a^2 u F'/F,   H = (gamma - 1)(q + rho u phi)

With the Colburn analogy (walls.py) and (gamma - 1) cp = gamma R,
(gamma - 1) q = c_h |u| rho (gamma R T_w - a^2).

Each relation is integrated from its foot to the node with rho a, a^2 and the sources averaged
over foot and end. A first pass uses the old node state as the end, a second the result of the
first; the full step starts from the half step extrapolated and needs one pass. The wave path lies
inside one cell, so a kink in F(x) at a node does no harm.
"""

from math import sqrt

from aircolumn.compiled import kernel, routine, small

FAST = 0.9  # Mach number above which a node is traced as if supersonic (it may become so)


@small
def density_rate(rho, u, a2, gamma, drag, film, wall_a2):
    """H of the module's head, Pa/s."""
    return abs(u) * rho * (film * (wall_a2 - a2) + (gamma - 1.0) * drag * u * u)


@small
def widening(tau, a, taper):
    """Half the relative growth of area along a wave path, kept below 1 on meshes that do not
    resolve the taper (where the exact formula would over- or undershoot any area ratio)."""
    return min(max(0.5 * tau * a * taper, -0.5), 0.5)


@small
def along_wave(mesh, prof, j, s, sign, taper_e, tau, rho_e, u_e, a_e, gamma_e):
    """A wave (sign +1: C+, -1: C-) from its foot at ``s`` in cell ``j`` to a node of that cell.

    taper_e: d ln F/dx at that node, seen from the cell. Returns (K, Z, slope at the foot) of the
    relation p + sign Z u = K at the node, in which the area source at the node is part of Z
    (implicit) and all other sources are part of K.
    """
    rho = prof.r0[j] + s * (prof.r1[j] + s * prof.r2[j])
    u = prof.u0[j] + s * (prof.u1[j] + s * prof.u2[j])
    p = prof.p0[j] + s * (prof.p1[j] + s * prof.p2[j])
    a = prof.a0[j] + s * (prof.a1[j] + s * prof.a2[j])
    taper = mesh.taper_l[j] + s * (mesh.taper_r[j] - mesh.taper_l[j])
    drag, film, wall_a2 = prof.drag[j], prof.film[j], prof.wall_a2[j]
    z_f = rho * a
    z_e = rho_e * a_e
    source = density_rate(rho, u, a * a, gamma_e, drag, film, wall_a2)
    source += density_rate(rho_e, u_e, a_e * a_e, gamma_e, drag, film, wall_a2)
    source -= sign * drag * (z_f * u * abs(u) + z_e * u_e * abs(u_e))
    z = 0.5 * (z_f + z_e)
    k = p + sign * u * (z - sign * z_f * widening(tau, a, taper)) + 0.5 * tau * source
    return k, z + sign * z_e * widening(tau, a_e, taper_e), u + sign * a


@small
def along_plus(mesh, prof, j, tau, speed, rho_e, u_e, a_e, gamma_e):
    """C+ wave of slope ``speed`` inside cell ``j`` to its right node: (K, Z, u + a at the foot)."""
    s = 1.0 - speed * tau / mesh.dx[j]
    return along_wave(mesh, prof, j, s, 1.0, mesh.taper_r[j], tau, rho_e, u_e, a_e, gamma_e)


@small
def along_minus(mesh, prof, j, tau, speed, rho_e, u_e, a_e, gamma_e):
    """C- wave of slope ``speed`` inside cell ``j`` to its left node: (K, Z, u - a at the foot)."""
    s = -speed * tau / mesh.dx[j]
    return along_wave(mesh, prof, j, s, -1.0, mesh.taper_l[j], tau, rho_e, u_e, a_e, gamma_e)


@small
def path_foot(mesh, prof, j, s):
    """State carried by the particle path: rho, u, p, gamma, yf, yb at ``s`` in cell ``j``."""
    return (
        prof.r0[j] + s * (prof.r1[j] + s * prof.r2[j]),
        prof.u0[j] + s * (prof.u1[j] + s * prof.u2[j]),
        prof.p0[j] + s * (prof.p1[j] + s * prof.p2[j]),
        prof.g0[j] + s * (prof.g1[j] + s * prof.g2[j]),
        prof.f0[j] + s * (prof.f1[j] + s * prof.f2[j]),
        prof.b0[j] + s * (prof.b1[j] + s * prof.b2[j]),
    )


@small
def along_path(mesh, prof, j, tau, u_mean):
    """Particle path ending at node ``j``: both possible feet, the upstream one taken.

    Returns rho, p, gamma, yf, yb, u at the foot and drag, film, wall_a2 of the cell it lies in.
    """
    rl, ul, pl, gl, fl, bl = path_foot(mesh, prof, j - 1, 1.0 - u_mean * tau / mesh.dx[j - 1])
    rr, ur, pr, gr, fr, br = path_foot(mesh, prof, j, -u_mean * tau / mesh.dx[j])
    right = u_mean > 0.0  # moving right: comes from the left cell
    return (
        rl if right else rr,
        pl if right else pr,
        gl if right else gr,
        fl if right else fr,
        bl if right else br,
        ul if right else ur,
        prof.drag[j - 1] if right else prof.drag[j],
        prof.film[j - 1] if right else prof.film[j],
        prof.wall_a2[j - 1] if right else prof.wall_a2[j],
    )


@small
def density_on_path(tau, p, foot, rho_e, u_e, a_e):
    """Density at the node from dp - a^2 drho = H dt along the particle path."""
    rho_f, p_f, g_f, _, _, u_f, drag, film, wall_a2 = foot
    a2_f = g_f * p_f / rho_f
    a2_e = a_e * a_e
    rate = density_rate(rho_f, u_f, a2_f, g_f, drag, film, wall_a2)
    rate += density_rate(rho_e, u_e, a2_e, g_f, drag, film, wall_a2)
    return rho_f + (p - p_f - 0.5 * tau * rate) / (0.5 * (a2_f + a2_e))


@small
def meeting(plus, z_plus, minus, z_minus, foot, tau, rho_e, u_e, a_e):
    """rho, u, p, a, gamma, yf, yb where p + Z u = K (plus), p - Z u = K (minus) and a particle
    path meet."""
    total = 1.0 / (z_plus + z_minus)
    u = (plus - minus) * total
    p = (z_minus * plus + z_plus * minus) * total
    rho = density_on_path(tau, p, foot, rho_e, u_e, a_e)
    return rho, u, p, sqrt(foot[2] * p / rho), foot[2], foot[3], foot[4]


@small
def one_pass(mesh, prof, j, tau, fast, slow, drift, rho_e, u_e, a_e, gamma_e):
    """Meet the three characteristics at node ``j`` in subsonic flow.

    fast, slow, drift: slopes u + a, u - a, u averaged over each path. Returns the node's
    rho, u, p, a, gamma, yf, yb and the slopes found at the three feet.
    """
    plus, z_plus, foot_fast = along_plus(mesh, prof, j - 1, tau, fast, rho_e, u_e, a_e, gamma_e)
    minus, z_minus, foot_slow = along_minus(mesh, prof, j, tau, slow, rho_e, u_e, a_e, gamma_e)
    foot = along_path(mesh, prof, j, tau, drift)
    state = meeting(plus, z_plus, minus, z_minus, foot, tau, rho_e, u_e, a_e)
    return (*state, foot_fast, foot_slow, foot[5])


@routine
def one_pass_supersonic(mesh, prof, j, tau, fast, slow, drift, rho_e, u_e, a_e, gamma_e):
    """As one_pass where both waves may run the same way: each foot lies on its upstream side."""
    plus, z_plus, foot_fast = along_plus(mesh, prof, j - 1, tau, fast, rho_e, u_e, a_e, gamma_e)
    minus, z_minus, foot_slow = along_minus(mesh, prof, j, tau, slow, rho_e, u_e, a_e, gamma_e)
    if slow > 0.0:
        minus, z_minus, foot_slow = along_wave(
            mesh, prof, j - 1, 1.0 - slow * tau / mesh.dx[j - 1], -1.0, mesh.taper_r[j - 1],
            tau, rho_e, u_e, a_e, gamma_e,
        )  # fmt: skip
    elif fast < 0.0:
        plus, z_plus, foot_fast = along_wave(
            mesh, prof, j, -fast * tau / mesh.dx[j], 1.0, mesh.taper_l[j],
            tau, rho_e, u_e, a_e, gamma_e,
        )  # fmt: skip
    foot = along_path(mesh, prof, j, tau, drift)
    state = meeting(plus, z_plus, minus, z_minus, foot, tau, rho_e, u_e, a_e)
    return (*state, foot_fast, foot_slow, foot[5])


@small
def extrapolate(half, old):
    """2 half - old for a positive quantity, the change limited to 30 % of ``half``: where a
    contact or a flow reversal passes the node the straight continuation would leave all sense."""
    change = min(max(half - old, -0.3 * half), 0.3 * half)
    return half + change


@small
def half_way(mesh, prof, old, half, feet, j, tau, trace):
    """Node ``j`` after ``tau`` (half the step) in two passes of ``trace``.

    ``feet`` receives the slopes at the feet, from which the full step extrapolates its own.
    """
    u, a = old.u[j], old.a[j]
    rho1, u1, _, a1, g1, _, _, fast, slow, drift = trace(
        mesh, prof, j, tau, u + a, u - a, u, old.rho[j], u, a, old.gamma[j]
    )
    fast = 0.5 * (fast + u1 + a1)
    slow = 0.5 * (slow + u1 - a1)
    drift = 0.5 * (drift + u1)
    rho2, u2, p2, a2, g2, f2, b2, fast, slow, drift = trace(
        mesh, prof, j, tau, fast, slow, drift, rho1, u1, a1, g1
    )
    half.rho[j] = rho2
    half.u[j] = u2
    half.p[j] = p2
    half.a[j] = a2
    half.gamma[j] = g2
    half.yf[j] = f2
    half.yb[j] = b2
    feet.fast[j] = fast
    feet.slow[j] = slow
    feet.drift[j] = drift


@small
def whole_way(mesh, prof, old, half, new, feet, j, tau, trace):
    """Node ``j`` after the full step ``tau`` in one pass of ``trace``.

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
    drift = feet.drift[j] + u_turn
    rho1, u1, p1, a1, g1, f1, b1, _, _, _ = trace(
        mesh, prof, j, tau, fast, slow, drift, rho_e, half.u[j] + u_turn, a_e, half.gamma[j]
    )
    new.rho[j] = rho1
    new.u[j] = u1
    new.p[j] = p1
    new.a[j] = a1
    new.gamma[j] = g1
    new.yf[j] = f1
    new.yb[j] = b1


@small
def any_fast(old, first, last):
    """Whether any node is supersonic or nearly so (seldom: the second look then costs little)."""
    count = 0
    for j in range(first, last):
        count += abs(old.u[j]) > FAST * old.a[j]
    return count > 0


@kernel
def half_step(mesh, prof, old, half, feet, first, last, tau):
    """All nodes first..last-1 at half time; supersonic ones are done again with their own feet."""
    for j in range(first, last):
        half_way(mesh, prof, old, half, feet, j, tau, one_pass)
    if any_fast(old, first, last):
        for j in range(first, last):
            if abs(old.u[j]) > FAST * old.a[j]:
                half_way(mesh, prof, old, half, feet, j, tau, one_pass_supersonic)


@kernel
def full_step(mesh, prof, old, half, new, feet, first, last, tau):
    """All nodes first..last-1 at full time; supersonic ones are done again with their own feet."""
    for j in range(first, last):
        whole_way(mesh, prof, old, half, new, feet, j, tau, one_pass)
    if any_fast(old, first, last):
        for j in range(first, last):
            if abs(old.u[j]) > FAST * old.a[j]:
                whole_way(mesh, prof, old, half, new, feet, j, tau, one_pass_supersonic)
