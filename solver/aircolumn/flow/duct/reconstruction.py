"""What the gas looks like inside each cell at the start of a step.

``parabolas`` (conservative member): node values and the cell's mean fix a parabola. The state at
the middle of the cell follows from the conserved mean by Simpson's rule,

    F_m q_m = (6 mean(F q) - F_l q_l - F_r q_r) / 4,

and each primitive variable is the parabola through left, middle and right. Where the gas is steep
(contact, front of a blowdown, shock) the parabola gives way to one of the same mean without an extremum
inside the cell (Colella & Woodward, J. Comp. Phys. 54, 1984), and in shocks to a line of limited slope
through the mean. (A line of minmod slope in all steep cells takes three times the error in VE and torque
of engines with much overlap, where the port's contacts are drawn in again: NOTES of engine/model.)
``steep`` measures it: the second difference of density, internal energy and burned share, the first two
relative to four times their size, brought smoothly (a hard switch makes cycles of an engine alternate)
from 0 at RAMP_FROM to 1 a RAMP_WIDTH further, and spread to the neighbours. A resolved wave stays below
the ramp: 20 cells to a sine wave of 10 % velocity amplitude give 0.0025.

``lines`` (mesh member): straight lines between the nodes, as in the classical method.
"""

from math import sqrt

from aircolumn.flow.compiled.decorators import inlined, kernel
from aircolumn.flow.duct.walls import COLBURN, fanning, heating_rate
from aircolumn.flow.gas.kernels import (
    SUTHERLAND,
    cv_coefficients,
    cv_from,
    gas_constant,
    temperature_near,
    viscosity_numerator,
)

RAMP_FROM = 0.003
RAMP_WIDTH = 0.010
SHOCK_FROM, SHOCK_WIDTH = 0.05, 0.15  # of the pressure, over two cells


@inlined
def second_difference(left, middle, right):
    """Size of the second difference."""
    return abs(left - 2.0 * middle + right)


@inlined
def smoothstep(x):
    """0 up to 0, 1 from 1 on, and smoothly between."""
    x = min(max(x, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


@inlined
def bending(left, middle, right, even_l, even_r):
    """As second_difference between cells that need not be equal."""
    return abs(even_l * (left - middle) + even_r * (right - middle))


@kernel
def means(mesh, cells, middles, places):
    """Mean density, internal energy per volume and burned share of every cell."""
    for j in range(places):
        middles.density[j] = cells.mass[j] * mesh.per_volume[j]
        per_mass = 1.0 / cells.mass[j]
        kinetic = 0.5 * cells.momentum[j] * cells.momentum[j] * per_mass
        middles.inner[j] = (cells.energy[j] - kinetic) * mesh.per_volume[j]
        middles.share[j] = cells.burned[j] * per_mass


@kernel
def extend(values, first, count):
    """Fill the two ghost cells of each duct by linear extrapolation."""
    for d in range(first.size):
        l, r = first[d], first[d] + count[d] - 1
        if count[d] > 1:
            values[l - 1] = 2.0 * values[l] - values[l + 1]
            values[r + 1] = 2.0 * values[r] - values[r - 1]
        else:
            values[l - 1] = values[l]
            values[r + 1] = values[r]


@kernel
def mark_steep(mesh, nodes, middles, last):
    """Fill ``middles.steep``: from cell to cell, and within the cell between its nodes and its mean
    (hot or burned gas at an end node next to other gas in the cell shows only there)."""
    for j in range(1, last):
        rho, inner = middles.density[j], middles.inner[j]
        wl, wr = mesh.even_l[j], mesh.even_r[j]
        d = bending(middles.density[j - 1], rho, middles.density[j + 1], wl, wr)
        within = 2.0 * second_difference(nodes.rho[j], rho, nodes.rho[j + 1])
        e = bending(middles.inner[j - 1], inner, middles.inner[j + 1], wl, wr)
        share = middles.share[j]
        mixed = 2.0 * second_difference(nodes.yb[j], share, nodes.yb[j + 1])
        y = 0.25 * max(bending(middles.share[j - 1], share, middles.share[j + 1], wl, wr), mixed)
        relative = 0.25 * max(max(d, within) * inner, e * rho) / (rho * inner)  # one division
        worst = max(relative, y)
        steepness = smoothstep((worst - RAMP_FROM) / RAMP_WIDTH)
        middles.steepness[j] = max(mesh.inside[j] * steepness, mesh.coarse[j])
    for j in range(1, last):
        middles.steep[j] = mesh.inside[j] * max(
            max(middles.steepness[j - 1], middles.steepness[j]), middles.steepness[j + 1]
        )


@inlined
def middle_value(mean, per_volume, left, right, per_mid, steep):
    """Value per volume at the cell's middle; in steep cells the mean itself."""
    smooth = (6.0 * mean - left - right) * per_mid
    return smooth + steep * (mean * per_volume - smooth)


@kernel
def middle_states(gas, mesh, cells, nodes, middles, last):
    """Primitive state at the middle of each cell from its conserved mean."""
    for j in range(1, last):
        k = j + 1
        fl = mesh.area[j] * nodes.rho[j]
        fr = mesh.area[k] * nodes.rho[k]
        ul = nodes.u[j]
        ur = nodes.u[k]
        v = mesh.per_volume[j]
        am = mesh.per_mid[j]
        t = middles.steep[j]
        rho = middle_value(cells.mass[j], v, fl, fr, am, t)
        per_rho = 1.0 / rho
        u = middle_value(cells.momentum[j], v, fl * ul, fr * ur, am, t) * per_rho
        el = fl * (nodes.e[j] + 0.5 * ul * ul)
        er = fr * (nodes.e[k] + 0.5 * ur * ur)
        e = middle_value(cells.energy[j], v, el, er, am, t) * per_rho - 0.5 * u * u
        yf = middle_value(cells.fuel[j], v, fl * nodes.yf[j], fr * nodes.yf[k], am, t) * per_rho
        yb = middle_value(cells.burned[j], v, fl * nodes.yb[j], fr * nodes.yb[k], am, t) * per_rho
        r = gas_constant(gas, yf, yb)
        temperature = temperature_near(gas, yf, yb, e, middles.temperature[j])
        g = 1.0 + r / cv_from(cv_coefficients(gas, yf, yb), temperature)
        middles.temperature[j] = temperature
        middles.rho[j] = rho
        middles.u[j] = u
        middles.p[j] = rho * r * temperature
        middles.a[j] = sqrt(g * r * temperature)
        middles.gamma[j] = g
        middles.yf[j] = yf
        middles.yb[j] = yb


@inlined
def fill_ghost(middle, node, l, r):
    """Ghosts of one variable: the end node itself. Its mirror image would let the line, of twice the
    smaller difference, go beyond the node, and what goes out there grow from step to step."""
    middle[l - 1] = node[l]
    middle[r + 1] = node[r + 1]


@kernel
def fill_ghosts(middles, nodes, first, count):
    """Ghost middles from the end node, so that the limited line sees what the end is doing."""
    for d in range(first.size):
        l, r = first[d], first[d] + count[d] - 1
        fill_ghost(middles.rho, nodes.rho, l, r)
        fill_ghost(middles.u, nodes.u, l, r)
        fill_ghost(middles.p, nodes.p, l, r)
        fill_ghost(middles.a, nodes.a, l, r)
        fill_ghost(middles.gamma, nodes.gamma, l, r)
        fill_ghost(middles.yf, nodes.yf, l, r)
        fill_ghost(middles.yb, nodes.yb, l, r)


@inlined
def smooth_fit(l, m, r):
    """Coefficients of the parabola through left, middle and right."""
    return l, 4.0 * m - 3.0 * l - r, 2.0 * (l + r) - 4.0 * m


@inlined
def monotone_ends(left, mean, right):
    """Values at the cell's ends with which the parabola of this mean has no extremum inside the cell: its
    mean at both where the mean is not between them; else the end further off gives way (Colella &
    Woodward, J. Comp. Phys. 54, 1984, eq. 1.10)."""
    rise = right - left
    off_centre = rise * (mean - 0.5 * (left + right))
    bound = rise * rise * (1.0 / 6.0)
    monotone_left = 3.0 * mean - 2.0 * right if off_centre > bound else left
    monotone_right = 3.0 * mean - 2.0 * left if off_centre < -bound else right
    outside = (right - mean) * (mean - left) <= 0.0
    return (mean if outside else monotone_left), (mean if outside else monotone_right)


@inlined
def limited_slope(left, middle, right):
    """Slope across the cell: the mean of the one-sided differences, twice the smaller at most, 0 at an
    extremum (van Leer, J. Comp. Phys. 23, 1977)."""
    down = middle - left
    up = right - middle
    size = min(2.0 * min(abs(down), abs(up)), 0.5 * abs(down + up))
    slope = size if down > 0.0 else -size
    return slope if down * up > 0.0 else 0.0


@inlined
def shock_share(middles, j):
    """How much the flow around cell ``j`` is a shock: it is compressed, and pressure rises by more than
    SHOCK_FROM over two cells (as where Colella & Woodward flatten, their appendix)."""
    i, k = j - 1, j + 1
    p, q = middles.p[i], middles.p[k]
    jump = smoothstep((abs(q - p) / min(p, q) - SHOCK_FROM) / SHOCK_WIDTH)
    return jump if middles.u[i] > middles.u[k] else 0.0


@inlined
def fit(left, before, middle, after, right, t, shock):
    """Coefficients of the parabola through the edges and the middle, for the share ``t`` of the limited
    one; ``middle`` is the mean by the same share (middle_value)."""
    half = 0.5 * limited_slope(before, middle, after)
    l, r = monotone_ends(left, middle, right)
    l += shock * (middle - half - l)
    r += shock * (middle + half - r)
    m = middle + t * (0.5 * middle - 0.25 * (l + r))  # 3/2 of the mean less the ends' fourths: Simpson
    return smooth_fit(left + t * (l - left), m, right + t * (r - right))


@kernel
def any_steep(middles, last):
    """Whether the limiter is wanted anywhere."""
    count = 0
    for j in range(1, last):
        count += middles.steep[j] > 0.0
    return count > 0


@kernel
def smooth_parabolas(nodes, middles, profile, last):
    """Profile coefficients where no cell is steep: ``parabolas`` without the limited line."""
    for j in range(1, last):
        k = j + 1
        q = smooth_fit(nodes.rho[j], middles.rho[j], nodes.rho[k])
        profile.r0[j], profile.r1[j], profile.r2[j] = q
        q = smooth_fit(nodes.u[j], middles.u[j], nodes.u[k])
        profile.u0[j], profile.u1[j], profile.u2[j] = q
        q = smooth_fit(nodes.p[j], middles.p[j], nodes.p[k])
        profile.p0[j], profile.p1[j], profile.p2[j] = q
        q = smooth_fit(nodes.a[j], middles.a[j], nodes.a[k])
        profile.a0[j], profile.a1[j], profile.a2[j] = q
        q = smooth_fit(nodes.gamma[j], middles.gamma[j], nodes.gamma[k])
        profile.g0[j], profile.g1[j], profile.g2[j] = q
        q = smooth_fit(nodes.yf[j], middles.yf[j], nodes.yf[k])
        profile.f0[j], profile.f1[j], profile.f2[j] = q
        q = smooth_fit(nodes.yb[j], middles.yb[j], nodes.yb[k])
        profile.b0[j], profile.b1[j], profile.b2[j] = q


@kernel
def parabolas(nodes, middles, profile, last):
    """Profile coefficients of all variables in all cells."""
    for j in range(1, last):
        t, i, k = middles.steep[j], j - 1, j + 1
        shock = shock_share(middles, j)
        q = fit(nodes.rho[j], middles.rho[i], middles.rho[j], middles.rho[k], nodes.rho[k], t, shock)
        profile.r0[j], profile.r1[j], profile.r2[j] = q
        q = fit(nodes.u[j], middles.u[i], middles.u[j], middles.u[k], nodes.u[k], t, shock)
        profile.u0[j], profile.u1[j], profile.u2[j] = q
        q = fit(nodes.p[j], middles.p[i], middles.p[j], middles.p[k], nodes.p[k], t, shock)
        profile.p0[j], profile.p1[j], profile.p2[j] = q
        q = fit(nodes.a[j], middles.a[i], middles.a[j], middles.a[k], nodes.a[k], t, shock)
        profile.a0[j], profile.a1[j], profile.a2[j] = q
    for j in range(1, last):
        t, i, k = middles.steep[j], j - 1, j + 1
        shock = shock_share(middles, j)
        q = fit(
            nodes.gamma[j], middles.gamma[i], middles.gamma[j], middles.gamma[k], nodes.gamma[k], t, shock
        )
        profile.g0[j], profile.g1[j], profile.g2[j] = q
        q = fit(nodes.yf[j], middles.yf[i], middles.yf[j], middles.yf[k], nodes.yf[k], t, shock)
        profile.f0[j], profile.f1[j], profile.f2[j] = q
        q = fit(nodes.yb[j], middles.yb[i], middles.yb[j], middles.yb[k], nodes.yb[k], t, shock)
        profile.b0[j], profile.b1[j], profile.b2[j] = q


@kernel
def lines(gas, nodes, middles, profile, last):
    """Straight lines between the nodes; the middle is their mean."""
    for j in range(1, last):
        k = j + 1
        profile.r0[j], profile.r1[j], profile.r2[j] = nodes.rho[j], nodes.rho[k] - nodes.rho[j], 0.0
        profile.u0[j], profile.u1[j], profile.u2[j] = nodes.u[j], nodes.u[k] - nodes.u[j], 0.0
        profile.p0[j], profile.p1[j], profile.p2[j] = nodes.p[j], nodes.p[k] - nodes.p[j], 0.0
        profile.a0[j], profile.a1[j], profile.a2[j] = nodes.a[j], nodes.a[k] - nodes.a[j], 0.0
        profile.g0[j], profile.g1[j], profile.g2[j] = nodes.gamma[j], nodes.gamma[k] - nodes.gamma[j], 0.0
        profile.f0[j], profile.f1[j], profile.f2[j] = nodes.yf[j], nodes.yf[k] - nodes.yf[j], 0.0
        profile.b0[j], profile.b1[j], profile.b2[j] = nodes.yb[j], nodes.yb[k] - nodes.yb[j], 0.0
        middles.rho[j] = 0.5 * (nodes.rho[j] + nodes.rho[k])
        middles.u[j] = 0.5 * (nodes.u[j] + nodes.u[k])
        middles.p[j] = 0.5 * (nodes.p[j] + nodes.p[k])
        middles.gamma[j] = 0.5 * (nodes.gamma[j] + nodes.gamma[k])
        middles.a[j] = 0.5 * (nodes.a[j] + nodes.a[k])
        middles.yf[j] = 0.5 * (nodes.yf[j] + nodes.yf[k])
        middles.yb[j] = 0.5 * (nodes.yb[j] + nodes.yb[k])
        r = gas_constant(gas, middles.yf[j], middles.yb[j])
        middles.temperature[j] = middles.p[j] / (middles.rho[j] * r)


@kernel
def wall_terms(gas, mesh, middles, profile, last):
    """Friction and heat-transfer coefficients of each cell, held over the step, and braking and
    heating in its middle at the start of the step."""
    for j in range(1, last):
        t, u, g = middles.temperature[j], middles.u[j], middles.gamma[j]
        flow = middles.rho[j] * abs(u) * mesh.diameter[j] + 1e-12
        inverse_reynolds = viscosity_numerator(t) / ((t + SUTHERLAND) * flow)
        rate = 2.0 * fanning(inverse_reynolds, mesh.rough[j]) * mesh.per_diameter[j]
        drag = mesh.friction[j] * rate + 0.5 * mesh.bend[j]
        film = mesh.heat[j] * rate * COLBURN
        wall_a2 = g * gas_constant(gas, middles.yf[j], middles.yb[j]) * mesh.wall[j]
        a2 = middles.a[j] * middles.a[j]
        profile.drag[j], profile.film[j] = drag, film
        profile.braking[j] = drag * u * abs(u) + profile.swing[j]
        profile.heating[j] = heating_rate(middles.rho[j], u, a2, g, film, wall_a2, profile.braking[j])


@kernel
def wall_terms_half_way(gas, mesh, half, profile, last):
    """Braking and heating again, from the mean of the cell's nodes at half time."""
    for j in range(1, last):
        k = j + 1
        u = 0.5 * (half.u[j] + half.u[k])
        rho = 0.5 * (half.rho[j] + half.rho[k])
        a = 0.5 * (half.a[j] + half.a[k])
        g = 0.5 * (half.gamma[j] + half.gamma[k])
        r = gas_constant(gas, 0.5 * (half.yf[j] + half.yf[k]), 0.5 * (half.yb[j] + half.yb[k]))
        profile.braking[j] = profile.drag[j] * u * abs(u) + profile.swing[j]
        wall_a2 = g * r * mesh.wall[j]
        profile.heating[j] = heating_rate(rho, u, a * a, g, profile.film[j], wall_a2, profile.braking[j])
