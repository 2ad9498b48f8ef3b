"""What the gas looks like inside each cell at the start of a step.

``parabolas`` (conservative member): node values and the cell's mean fix a parabola. The state at
the middle of the cell follows from the conserved mean by Simpson's rule,

    F_m q_m = (6 mean(F q) - F_l q_l - F_r q_r) / 4,

and each primitive variable is the parabola through left, middle and right. Where the gas is steep
(shock, contact, blowdown front) the parabola gives way to a line with the minmod slope (Roe, Ann.
Rev. Fluid Mech. 18, 1986) through the mean. ``steep`` measures it: the second
difference of density, internal energy and burned share, the first two relative to four times
their size, brought smoothly
(a hard switch makes cycles of an engine alternate) from 0 at RAMP_FROM to 1 a RAMP_WIDTH further,
and spread to the neighbours. A resolved wave stays below the ramp: 20
cells to a sine wave of 10 % velocity amplitude give 0.0025.

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


@inlined
def second_difference(left, middle, right):
    """Size of the second difference."""
    return abs(left - 2.0 * middle + right)


@inlined
def bending(left, middle, right, even_l, even_r):
    """As second_difference between cells that need not be equal."""
    return abs(even_l * (left - middle) + even_r * (right - middle))


@inlined
def limited_slope(left, middle, right):
    """Minmod slope across the cell: the smaller of the one-sided differences, 0 at an extremum."""
    down = middle - left
    up = right - middle
    smaller = down if abs(down) < abs(up) else up
    return smaller if down * up > 0.0 else 0.0


@kernel
def means(mesh, cells, mid, places):
    """Mean density, internal energy per volume and burned share of every cell."""
    for j in range(places):
        mid.density[j] = cells.mass[j] * mesh.per_volume[j]
        per_mass = 1.0 / cells.mass[j]
        kinetic = 0.5 * cells.momentum[j] * cells.momentum[j] * per_mass
        mid.inner[j] = (cells.energy[j] - kinetic) * mesh.per_volume[j]
        mid.share[j] = cells.burned[j] * per_mass


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
def mark_steep(mesh, nodes, mid, last):
    """Fill ``mid.steep``: from cell to cell, and within the cell between its nodes and its mean
    (hot gas at an end node next to cold gas in the cell shows only there)."""
    for j in range(1, last):
        rho, inner = mid.density[j], mid.inner[j]
        wl, wr = mesh.even_l[j], mesh.even_r[j]
        d = bending(mid.density[j - 1], rho, mid.density[j + 1], wl, wr)
        within = 2.0 * second_difference(nodes.rho[j], rho, nodes.rho[j + 1])
        e = bending(mid.inner[j - 1], inner, mid.inner[j + 1], wl, wr)
        y = 0.25 * bending(mid.share[j - 1], mid.share[j], mid.share[j + 1], wl, wr)
        relative = 0.25 * max(max(d, within) * inner, e * rho) / (rho * inner)  # one division
        worst = max(relative, y)
        ramp = min(max((worst - RAMP_FROM) / RAMP_WIDTH, 0.0), 1.0)
        mid.bend[j] = max(mesh.inside[j] * ramp * ramp * (3.0 - 2.0 * ramp), mesh.coarse[j])
    for j in range(1, last):
        mid.steep[j] = mesh.inside[j] * max(max(mid.bend[j - 1], mid.bend[j]), mid.bend[j + 1])


@inlined
def middle_value(mean, per_volume, left, right, per_mid, steep):
    """Value per volume at the cell's middle; in steep cells the mean itself."""
    smooth = (6.0 * mean - left - right) * per_mid
    return smooth + steep * (mean * per_volume - smooth)


@kernel
def middles(gas, mesh, cells, nodes, mid, last):
    """Primitive state at the middle of each cell from its conserved mean."""
    for j in range(1, last):
        k = j + 1
        fl = mesh.area[j] * nodes.rho[j]
        fr = mesh.area[k] * nodes.rho[k]
        ul = nodes.u[j]
        ur = nodes.u[k]
        v = mesh.per_volume[j]
        am = mesh.per_mid[j]
        t = mid.steep[j]
        rho = middle_value(cells.mass[j], v, fl, fr, am, t)
        per_rho = 1.0 / rho
        u = middle_value(cells.momentum[j], v, fl * ul, fr * ur, am, t) * per_rho
        el = fl * (nodes.e[j] + 0.5 * ul * ul)
        er = fr * (nodes.e[k] + 0.5 * ur * ur)
        e = middle_value(cells.energy[j], v, el, er, am, t) * per_rho - 0.5 * u * u
        yf = middle_value(cells.fuel[j], v, fl * nodes.yf[j], fr * nodes.yf[k], am, t) * per_rho
        yb = middle_value(cells.burned[j], v, fl * nodes.yb[j], fr * nodes.yb[k], am, t) * per_rho
        r = gas_constant(gas, yf, yb)
        temperature = temperature_near(gas, yf, yb, e, mid.temperature[j])
        g = 1.0 + r / cv_from(cv_coefficients(gas, yf, yb), temperature)
        mid.temperature[j] = temperature
        mid.rho[j] = rho
        mid.u[j] = u
        mid.p[j] = rho * r * temperature
        mid.a[j] = sqrt(g * r * temperature)
        mid.gamma[j] = g
        mid.yf[j] = yf
        mid.yb[j] = yb


@inlined
def mirror(middle, node, l, r):
    """Ghosts of one variable: the end node is the mean of ghost and neighbour."""
    middle[l - 1] = 2.0 * node[l] - middle[l]
    middle[r + 1] = 2.0 * node[r + 1] - middle[r]


@kernel
def mirror_ends(mid, nodes, first, count):
    """Ghost middles from the end node, so that the limited line sees what the end is doing."""
    for d in range(first.size):
        l, r = first[d], first[d] + count[d] - 1
        mirror(mid.rho, nodes.rho, l, r)
        mirror(mid.u, nodes.u, l, r)
        mirror(mid.p, nodes.p, l, r)
        mirror(mid.a, nodes.a, l, r)
        mirror(mid.gamma, nodes.gamma, l, r)
        mirror(mid.yf, nodes.yf, l, r)
        mirror(mid.yb, nodes.yb, l, r)


@inlined
def smooth_fit(l, m, r):
    """Coefficients of the parabola through left, middle and right."""
    return l, 4.0 * m - 3.0 * l - r, 2.0 * (l + r) - 4.0 * m


@inlined
def fit(node_l, node_r, m_l, m, m_r, t):
    """Coefficients of the parabola through the edges and the middle."""
    half = 0.5 * limited_slope(m_l, m, m_r)
    l = node_l + t * (m - half - node_l)
    r = node_r + t * (m + half - node_r)
    return smooth_fit(l, m, r)


@kernel
def any_steep(mid, last):
    """Whether the limiter is wanted anywhere."""
    count = 0
    for j in range(1, last):
        count += mid.steep[j] > 0.0
    return count > 0


@kernel
def smooth_parabolas(nodes, mid, prof, last):
    """Profile coefficients where no cell is steep: ``parabolas`` without the limited line."""
    for j in range(1, last):
        k = j + 1
        q = smooth_fit(nodes.rho[j], mid.rho[j], nodes.rho[k])
        prof.r0[j], prof.r1[j], prof.r2[j] = q
        q = smooth_fit(nodes.u[j], mid.u[j], nodes.u[k])
        prof.u0[j], prof.u1[j], prof.u2[j] = q
        q = smooth_fit(nodes.p[j], mid.p[j], nodes.p[k])
        prof.p0[j], prof.p1[j], prof.p2[j] = q
        q = smooth_fit(nodes.a[j], mid.a[j], nodes.a[k])
        prof.a0[j], prof.a1[j], prof.a2[j] = q
        q = smooth_fit(nodes.gamma[j], mid.gamma[j], nodes.gamma[k])
        prof.g0[j], prof.g1[j], prof.g2[j] = q
        q = smooth_fit(nodes.yf[j], mid.yf[j], nodes.yf[k])
        prof.f0[j], prof.f1[j], prof.f2[j] = q
        q = smooth_fit(nodes.yb[j], mid.yb[j], nodes.yb[k])
        prof.b0[j], prof.b1[j], prof.b2[j] = q


@kernel
def parabolas(nodes, mid, prof, last):
    """Profile coefficients of all variables in all cells."""
    for j in range(1, last):
        t = mid.steep[j]
        i, k = j - 1, j + 1
        q = fit(nodes.rho[j], nodes.rho[k], mid.rho[i], mid.rho[j], mid.rho[k], t)
        prof.r0[j], prof.r1[j], prof.r2[j] = q
        q = fit(nodes.u[j], nodes.u[k], mid.u[i], mid.u[j], mid.u[k], t)
        prof.u0[j], prof.u1[j], prof.u2[j] = q
        q = fit(nodes.p[j], nodes.p[k], mid.p[i], mid.p[j], mid.p[k], t)
        prof.p0[j], prof.p1[j], prof.p2[j] = q
        q = fit(nodes.a[j], nodes.a[k], mid.a[i], mid.a[j], mid.a[k], t)
        prof.a0[j], prof.a1[j], prof.a2[j] = q
    for j in range(1, last):
        t = mid.steep[j]
        i, k = j - 1, j + 1
        q = fit(nodes.gamma[j], nodes.gamma[k], mid.gamma[i], mid.gamma[j], mid.gamma[k], t)
        prof.g0[j], prof.g1[j], prof.g2[j] = q
        q = fit(nodes.yf[j], nodes.yf[k], mid.yf[i], mid.yf[j], mid.yf[k], t)
        prof.f0[j], prof.f1[j], prof.f2[j] = q
        q = fit(nodes.yb[j], nodes.yb[k], mid.yb[i], mid.yb[j], mid.yb[k], t)
        prof.b0[j], prof.b1[j], prof.b2[j] = q


@kernel
def lines(gas, nodes, mid, prof, last):
    """Straight lines between the nodes; the middle is their mean."""
    for j in range(1, last):
        k = j + 1
        prof.r0[j], prof.r1[j], prof.r2[j] = nodes.rho[j], nodes.rho[k] - nodes.rho[j], 0.0
        prof.u0[j], prof.u1[j], prof.u2[j] = nodes.u[j], nodes.u[k] - nodes.u[j], 0.0
        prof.p0[j], prof.p1[j], prof.p2[j] = nodes.p[j], nodes.p[k] - nodes.p[j], 0.0
        prof.a0[j], prof.a1[j], prof.a2[j] = nodes.a[j], nodes.a[k] - nodes.a[j], 0.0
        prof.g0[j], prof.g1[j], prof.g2[j] = nodes.gamma[j], nodes.gamma[k] - nodes.gamma[j], 0.0
        prof.f0[j], prof.f1[j], prof.f2[j] = nodes.yf[j], nodes.yf[k] - nodes.yf[j], 0.0
        prof.b0[j], prof.b1[j], prof.b2[j] = nodes.yb[j], nodes.yb[k] - nodes.yb[j], 0.0
        mid.rho[j] = 0.5 * (nodes.rho[j] + nodes.rho[k])
        mid.u[j] = 0.5 * (nodes.u[j] + nodes.u[k])
        mid.p[j] = 0.5 * (nodes.p[j] + nodes.p[k])
        mid.gamma[j] = 0.5 * (nodes.gamma[j] + nodes.gamma[k])
        mid.a[j] = 0.5 * (nodes.a[j] + nodes.a[k])
        mid.yf[j] = 0.5 * (nodes.yf[j] + nodes.yf[k])
        mid.yb[j] = 0.5 * (nodes.yb[j] + nodes.yb[k])
        r = gas_constant(gas, mid.yf[j], mid.yb[j])
        mid.temperature[j] = mid.p[j] / (mid.rho[j] * r)


@kernel
def wall_terms(gas, mesh, mid, prof, last):
    """Friction and heat-transfer coefficients of each cell, held over the step, and braking and
    heating in its middle at the start of the step."""
    for j in range(1, last):
        t, u, g = mid.temperature[j], mid.u[j], mid.gamma[j]
        flow = mid.rho[j] * abs(u) * mesh.diameter[j] + 1e-12
        inverse_reynolds = viscosity_numerator(t) / ((t + SUTHERLAND) * flow)
        rate = 2.0 * fanning(inverse_reynolds, mesh.rough[j]) * mesh.per_diameter[j]
        drag = mesh.friction[j] * rate + 0.5 * mesh.bend[j]
        film = mesh.heat[j] * rate * COLBURN
        wall_a2 = g * gas_constant(gas, mid.yf[j], mid.yb[j]) * mesh.wall[j]
        a2 = mid.a[j] * mid.a[j]
        prof.drag[j], prof.film[j] = drag, film
        prof.braking[j] = drag * u * abs(u) + prof.swing[j]
        prof.heating[j] = heating_rate(mid.rho[j], u, a2, g, film, wall_a2, prof.braking[j])


@kernel
def wall_terms_half_way(gas, mesh, half, prof, last):
    """Braking and heating again, from the mean of the cell's nodes at half time."""
    for j in range(1, last):
        k = j + 1
        u = 0.5 * (half.u[j] + half.u[k])
        rho = 0.5 * (half.rho[j] + half.rho[k])
        a = 0.5 * (half.a[j] + half.a[k])
        g = 0.5 * (half.gamma[j] + half.gamma[k])
        r = gas_constant(gas, 0.5 * (half.yf[j] + half.yf[k]), 0.5 * (half.yb[j] + half.yb[k]))
        prof.braking[j] = prof.drag[j] * u * abs(u) + prof.swing[j]
        wall_a2 = g * r * mesh.wall[j]
        prof.heating[j] = heating_rate(rho, u, a * a, g, prof.film[j], wall_a2, prof.braking[j])
