"""Cell contents advanced by the time-integrated fluxes of the node states.

    d/dt int F rho        dx + [F rho u]            = 0
    d/dt int F rho u      dx + [F (rho u^2 + p)]    = int p dF - int F rho phi dx
    d/dt int F rho (e+u^2/2) dx + [F rho u (h + u^2/2)] = int F q dx
    d/dt int F rho Y      dx + [F rho u Y]          = 0

Fluxes are integrated over the step by Simpson's rule from the old, half-step and new node states
(Eymann & Roe, AIAA 2013-2595; Barsukow, J. Sci. Comput. 86, 2021); in steep cells by the half-step
state alone, which makes the scheme there a two-step Godunov method. ``int p dF`` uses
Simpson's rule in space with slopes that add up to the exact change of area, so that gas at rest
stays at rest. Friction and heat are taken at half time.
"""

from math import sqrt

from aircolumn.flow.compiled.decorators import inlined, kernel
from aircolumn.flow.gas.kernels import cv_coefficients, cv_from, energy_from, gas_constant


@inlined
def finish_node(gas, nodes, j):
    """gamma, sound speed and energy of node ``j`` from density, pressure and composition."""
    yf, yb = nodes.yf[j], nodes.yb[j]
    r = gas_constant(gas, yf, yb)
    temperature = nodes.p[j] / (nodes.rho[j] * r)
    c = cv_coefficients(gas, yf, yb)
    g = 1.0 + r / cv_from(c, temperature)
    nodes.gamma[j] = g
    nodes.a[j] = sqrt(g * r * temperature)
    nodes.e[j] = energy_from(c, temperature)


@kernel
def finish_nodes(gas, nodes, last):
    """gamma, sound speed and energy of all nodes."""
    for j in range(1, last):
        finish_node(gas, nodes, j)


@kernel
def energies(gas, nodes, last):
    """Sensible energy of the nodes."""
    for j in range(1, last):
        yf, yb = nodes.yf[j], nodes.yb[j]
        temperature = nodes.p[j] / (nodes.rho[j] * gas_constant(gas, yf, yb))
        nodes.e[j] = energy_from(cv_coefficients(gas, yf, yb), temperature)


@kernel
def finish_and_integrate(gas, mesh, middles, old, half, new, out, last):
    """Complete the new nodes and integrate the fluxes through every node over the step."""
    for j in range(1, last):
        finish_node(gas, new, j)
        theta = max(middles.steep[j - 1], middles.steep[j])
        side = (1.0 - theta) * (1.0 / 6.0)
        centre = 1.0 - 2.0 * side
        f = mesh.area[j]
        uo, uh, un = old.u[j], half.u[j], new.u[j]
        mo = side * f * old.rho[j] * uo
        mh = centre * f * half.rho[j] * uh
        mn = side * f * new.rho[j] * un
        out.mass[j] = mo + mh + mn
        out.pressure[j] = side * (old.p[j] + new.p[j]) + centre * half.p[j]
        out.momentum[j] = mo * uo + mh * uh + mn * un + f * out.pressure[j]
        push = side * (uo * old.p[j] + un * new.p[j]) + centre * uh * half.p[j]
        out.energy[j] = (
            mo * (old.e[j] + 0.5 * uo * uo)
            + mh * (half.e[j] + 0.5 * uh * uh)
            + mn * (new.e[j] + 0.5 * un * un)
            + f * push
        )
        out.fuel[j] = mo * old.yf[j] + mh * half.yf[j] + mn * new.yf[j]
        out.burned[j] = mo * old.yb[j] + mh * half.yb[j] + mn * new.yb[j]


@inlined
def simpson(left, middle, right):
    """Mean over the cell."""
    return (left + 4.0 * middle + right) * (1.0 / 6.0)


@kernel
def advance_cells(mesh, middles, profile, old, half, flux, cells, wall_heat, last, dt):
    """New cell contents; ``wall_heat`` sums the heat received from the wall, J.

    Wall terms at half time: profile.braking and profile.heating (less the part friction turns into heat)
    times the mean mass of the cell's nodes.
    """
    for j in range(1, last):
        k = j + 1
        rate = mesh.inside[j] * dt * mesh.per_dx[j]
        step = mesh.inside[j] * dt
        p_mid = middles.p[j] + 0.5 * (flux.pressure[j] - old.p[j] + flux.pressure[k] - old.p[k])
        p_df = simpson(
            mesh.slope_l[j] * flux.pressure[j],
            mesh.slope_m[j] * p_mid,
            mesh.slope_r[j] * flux.pressure[k],
        )
        rho, u = 0.5 * (half.rho[j] + half.rho[k]), 0.5 * (half.u[j] + half.u[k])
        g1 = 0.5 * (half.gamma[j] + half.gamma[k]) - 1.0
        brake = mesh.volume[j] * rho * profile.braking[j]
        heat = mesh.volume[j] * profile.heating[j] / g1 - brake * u
        cells.mass[j] += rate * (flux.mass[j] - flux.mass[k])
        cells.momentum[j] += rate * (flux.momentum[j] - flux.momentum[k]) + step * (p_df - brake)
        cells.energy[j] += rate * (flux.energy[j] - flux.energy[k]) + step * heat
        wall_heat[j] += step * heat * mesh.dx[j]
        cells.fuel[j] += rate * (flux.fuel[j] - flux.fuel[k])
        cells.burned[j] += rate * (flux.burned[j] - flux.burned[k])
