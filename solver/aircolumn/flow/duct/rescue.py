"""Nodes that the characteristics cannot find are taken from a Riemann problem instead.

Behind a shock that stands in a widening duct the paths from both sides can meet at a pressure below
nought: the relations along them are linear in the change they cross. A node whose pressure or
density falls below FLOOR of what its neighbourhood held at the start of the step, or rises above
CEILING of it, takes the state that the exact Riemann problem between the two cells beside it puts
at their border (Toro, Riemann Solvers, ch. 4), through the whole step; these cells then count as
steep, so that their common flux is Godunov's. That flux keeps densities and pressures of the cells
positive for Courant numbers up to 1 (Einfeldt et al., J. Comp. Phys. 92, 1991). A cell that would
all the same lose more than MOST_LOST of its mass or internal energy in a step gets such fluxes on
both sides.
"""

from math import sqrt

from aircolumn.flow.compiled.decorators import inlined, kernel, routine
from aircolumn.flow.duct.conservation import finish_node
from aircolumn.flow.gas.kernels import gamma, gas_constant, temperature_of

FLOOR, CEILING = 0.3, 5.0
MOST_LOST = 0.8


@inlined
def wave_side(p, p_k, rho_k, a_k, g):
    """Change of velocity across the left or right wave to pressure ``p``, and its slope: a shock
    for p > p_k, a fan otherwise (Toro, section 4.3)."""
    if p > p_k:
        big = 2.0 / ((g + 1.0) * rho_k)
        small_ = (g - 1.0) / (g + 1.0) * p_k
        root = sqrt(big / (p + small_))
        return (p - p_k) * root, root * (1.0 - 0.5 * (p - p_k) / (p + small_))
    ratio = p / p_k
    power = ratio ** (0.5 * (g - 1.0) / g)
    return 2.0 * a_k / (g - 1.0) * (power - 1.0), power / (ratio * rho_k * a_k)


@routine
def star_pressure(rho_l, u_l, p_l, a_l, rho_r, u_r, p_r, a_r, g):
    """Pressure and velocity between the two waves."""
    p = max(0.5 * (p_l + p_r) - 0.125 * (u_r - u_l) * (rho_l + rho_r) * (a_l + a_r), 1e-3 * min(p_l, p_r))
    for _ in range(30):
        f_l, d_l = wave_side(p, p_l, rho_l, a_l, g)
        f_r, d_r = wave_side(p, p_r, rho_r, a_r, g)
        step = (f_l + f_r + u_r - u_l) / (d_l + d_r)
        earlier = p
        p = max(p - step, 0.1 * p)
        if abs(p - earlier) <= 1e-9 * p:
            break
        if p < 1e-6 * min(p_l, p_r):  # the gases part: vacuum between
            break
    f_l, _ = wave_side(p, p_l, rho_l, a_l, g)
    f_r, _ = wave_side(p, p_r, rho_r, a_r, g)
    return p, 0.5 * (u_l + u_r + f_r - f_l)


@routine
def beside_contact(p, u, rho_k, u_k, p_k, a_k, g):
    """State at the border from the wave that runs to the left into (rho_k, u_k, p_k), given the
    pressure and velocity between the waves, for u >= 0: density, velocity, pressure."""
    ratio = p / p_k
    if p > p_k:
        g_ratio = (g - 1.0) / (g + 1.0)
        speed = u_k - a_k * sqrt(0.5 * ((g + 1.0) / g * ratio + (g - 1.0) / g))
        if speed >= 0.0:
            return rho_k, u_k, p_k
        return rho_k * (ratio + g_ratio) / (g_ratio * ratio + 1.0), u, p
    if u_k - a_k >= 0.0:
        return rho_k, u_k, p_k
    rho = rho_k * ratio ** (1.0 / g)
    if u - sqrt(g * p / rho) <= 0.0:
        return rho, u, p
    m = 2.0 / (g + 1.0) + (g - 1.0) / ((g + 1.0) * a_k) * u_k  # sonic, inside the fan
    rho = rho_k * m ** (2.0 / (g - 1.0))
    return rho, m * a_k, p_k * (rho / rho_k) ** g


@routine
def set_from_riemann_problem(middles, i, j, nodes, k):
    """Set node ``k`` of ``nodes`` (all but a and e) from the Riemann problem between the middles of
    cells ``i`` and ``j``."""
    g = 0.5 * (middles.gamma[i] + middles.gamma[j])
    p, u = star_pressure(
        middles.rho[i],
        middles.u[i],
        middles.p[i],
        middles.a[i],
        middles.rho[j],
        middles.u[j],
        middles.p[j],
        middles.a[j],
        g,
    )
    if u >= 0.0:
        rho, v, q = beside_contact(p, u, middles.rho[i], middles.u[i], middles.p[i], middles.a[i], g)
        c = i
    else:
        rho, v, q = beside_contact(p, -u, middles.rho[j], -middles.u[j], middles.p[j], middles.a[j], g)
        v, c = -v, j
    nodes.rho[k], nodes.u[k], nodes.p[k] = rho, v, q
    nodes.yf[k], nodes.yb[k], nodes.gamma[k] = middles.yf[c], middles.yb[c], middles.gamma[c]


@inlined
def is_unphysical(old, nodes, j):
    """Whether node ``j`` is out of all proportion to its neighbourhood (or not a number)."""
    low_p = min(min(old.p[j - 1], old.p[j]), old.p[j + 1])
    high_p = max(max(old.p[j - 1], old.p[j]), old.p[j + 1])
    low_rho = min(min(old.rho[j - 1], old.rho[j]), old.rho[j + 1])
    high_rho = max(max(old.rho[j - 1], old.rho[j]), old.rho[j + 1])
    p, rho = nodes.p[j], nodes.rho[j]
    fine = (p > FLOOR * low_p) & (p < CEILING * high_p)
    return not (fine & (rho > FLOOR * low_rho) & (rho < CEILING * high_rho))


@kernel
def any_unphysical(mesh, old, nodes, last):
    """How many nodes inside ducts are out of proportion."""
    count = 0
    for j in range(1, last):
        between = (mesh.inside[j - 1] > 0.0) & (mesh.inside[j] > 0.0)
        count += between & is_unphysical(old, nodes, j)
    return count > 0


@routine
def replace_unphysical_nodes(gas, mesh, middles, old, nodes, last):
    """Set nodes inside ducts that are out of proportion; the cells beside them become steep."""
    for j in range(1, last):
        if mesh.inside[j - 1] > 0.0 and mesh.inside[j] > 0.0 and is_unphysical(old, nodes, j):
            set_from_riemann_problem(middles, j - 1, j, nodes, j)
            finish_node(gas, nodes, j)
            middles.steep[j - 1] = middles.steep[j] = 1.0


@inlined
def starves(mesh, middles, flux, cells, j, dt):
    """Whether cell ``j`` would lose too much mass or internal energy (walls left out)."""
    k = j + 1
    rate = dt * mesh.per_dx[j]
    mass = cells.mass[j] + rate * (flux.mass[j] - flux.mass[k])
    energy = cells.energy[j] + rate * (flux.energy[j] - flux.energy[k])
    p_mid = 0.5 * (flux.pressure[j] + flux.pressure[k])
    push = mesh.slope_l[j] * flux.pressure[j] + mesh.slope_r[j] * flux.pressure[k]
    push = (push + 4.0 * mesh.slope_m[j] * p_mid) / 6.0
    momentum = cells.momentum[j] + rate * (flux.momentum[j] - flux.momentum[k]) + dt * push
    inner = energy - 0.5 * momentum * momentum / mass
    least = (1.0 - MOST_LOST) * mesh.volume[j]
    return not ((mass > least * middles.density[j]) & (inner > least * middles.inner[j]))


@inlined
def godunov_flux(gas, mesh, middles, nodes, flux, k):
    """Flux through node ``k`` from the Riemann problem between the cells beside it."""
    set_from_riemann_problem(middles, k - 1, k, nodes, k)
    finish_node(gas, nodes, k)
    rho, u, p = nodes.rho[k], nodes.u[k], nodes.p[k]
    flow = mesh.area[k] * rho * u
    flux.mass[k], flux.pressure[k] = flow, p
    flux.momentum[k] = flow * u + mesh.area[k] * p
    flux.energy[k] = flow * (nodes.e[k] + p / rho + 0.5 * u * u)
    flux.fuel[k], flux.burned[k] = flow * nodes.yf[k], flow * nodes.yb[k]


@inlined
def take_mean(gas, mesh, middles, cells, j):
    """The state of cell ``j``'s middle becomes that of its mean: only of means it is known that
    Godunov's fluxes leave something of them."""
    rho, yf, yb = middles.density[j], middles.yf[j], middles.yb[j]
    t = middles.p[j] / (middles.rho[j] * gas_constant(gas, yf, yb))
    t = temperature_of(gas, yf, yb, middles.inner[j] / rho, t)
    middles.rho[j], middles.u[j] = rho, cells.momentum[j] / cells.mass[j]
    middles.p[j] = rho * gas_constant(gas, yf, yb) * t
    middles.gamma[j] = gamma(gas, yf, yb, t)
    middles.a[j] = sqrt(middles.gamma[j] * middles.p[j] / rho)


@routine
def limit_starving_fluxes(gas, mesh, middles, nodes, flux, cells, last, dt):
    """Cells that would starve get Godunov's fluxes at their nodes inside the duct; ``nodes``: those
    at the end of the step, which take that state."""
    for j in range(1, last):
        if middles.steep[j] > 0.0 and starves(mesh, middles, flux, cells, j, dt):
            take_mean(gas, mesh, middles, cells, j)
            for k in (j, j + 1):
                if mesh.inside[k - 1] > 0.0 and mesh.inside[k] > 0.0:
                    godunov_flux(gas, mesh, middles, nodes, flux, k)
