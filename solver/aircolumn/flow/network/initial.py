"""The state a march starts from: nodes, cells and volumes."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.constants import ATMOSPHERE
from aircolumn.flow.arrays.ducts import Cells, Middle, Nodes, block, rows
from aircolumn.flow.arrays.ends import CLOSED, PISTON, RESERVOIR, EndLinks, VolumeStates
from aircolumn.flow.duct.layer import MEMORIES
from aircolumn.flow.gas.kernels import energy, gamma, gas_constant
from aircolumn.flow.gas.mixture import Gas
from aircolumn.flow.network.items import COLDEST, HOTTEST, GasState, Volume, along
from aircolumn.flow.network.placement import PlacedDuct

if TYPE_CHECKING:
    from aircolumn.flow.arrays.ducts import Mesh
    from aircolumn.flow.duct.division import Reach

UNDISTURBED = ATMOSPHERE  # Pa, where no duct lies
SLIGHT = 1e-9  # by which rounding may take a sum of shares beyond 1
LEAST_SOUND = 0.05  # of the sound speed, in gas pulled off a wall so fast that nothing would be left there


def ducts_filled(
    gas: Gas, mesh: Mesh, ducts: dict[str, PlacedDuct], states: dict[str, GasState]
) -> tuple[Nodes, Cells]:
    """(nodes, cells) with the gas of ``states`` in them."""
    places = mesh.dx.size
    nodes = rows(Nodes, block(Nodes, places, 1.0))
    cells = rows(Cells, block(Cells, places, 1.0))
    nodes.p[:] = UNDISTURBED
    nodes.rho[:] = UNDISTURBED / (gas.Ra * 300.0)
    for a in (nodes.u, nodes.yf, nodes.yb, cells.momentum, cells.fuel, cells.burned):
        a[:] = 0.0
    cells.mass[:] = mesh.volume
    cells.energy[:] = mesh.volume * 2e5
    for name, duct in ducts.items():
        for first, reach in duct.pieces:
            _fill_reach(gas, mesh, states[name], first, reach, nodes, cells)
    return nodes, cells


def check_gas(name: str, duct: PlacedDuct) -> None:
    """Raise ValueError for gas that a duct is declared with and that cannot be."""
    state, x = duct.declared.state, np.concatenate((duct.node_positions, duct.middles))
    values = {}
    for field in fields(state):
        try:
            values[field.name] = along(getattr(state, field.name), x)
        except ValueError as error:
            raise ValueError(f"duct {name!r}: its {field.name}: {error}") from error
    pressure, temperature = values["pressure"], values["temperature"]
    if not ((pressure > 0.0) & np.isfinite(pressure)).all():
        raise ValueError(f"duct {name!r}: its pressure is not a finite number above 0 everywhere")
    if not ((temperature >= COLDEST) & (temperature <= HOTTEST)).all():
        raise ValueError(
            f"duct {name!r}: its temperature is not from {COLDEST:g} to {HOTTEST:g} K (not degC) everywhere"
        )
    if not np.isfinite(values["velocity"]).all():
        raise ValueError(f"duct {name!r}: its velocity is not a finite number everywhere")
    fuel, burned = values["fuel"], values["burned"]
    if not ((fuel >= 0.0) & (burned >= 0.0) & (fuel + burned <= 1.0 + SLIGHT)).all():
        raise ValueError(f"duct {name!r}: its shares of fuel vapour and burned gas are not from 0 to 1")


def _fill_reach(
    gas: Gas, mesh: Mesh, state: GasState, first: int, reach: Reach, nodes: Nodes, cells: Cells
) -> None:
    x = reach.start + reach.edges
    places = slice(first, first + reach.cells + 1)
    tiny = 1e-9 * (x[1] - x[0])
    n = reach.cells
    looked_at = np.concatenate((x[:-1] + tiny, 0.5 * (x[:-1] + x[1:]), x[1:] - tiny))
    primitive = _primitive(gas, state, looked_at)
    left, _, right = ([q[k : k + n] for q in primitive] for k in (0, n, 2 * n))
    for k, name in enumerate(("rho", "u", "p", "yf", "yb")):
        values = np.empty(x.size)
        values[0], values[-1] = left[k][0], right[k][-1]
        values[1:-1] = 0.5 * (right[k][:-1] + left[k][1:])
        getattr(nodes, name)[places] = values
    c = slice(first, first + reach.cells)
    a = mesh.area[places]
    for name, q in zip(Cells._fields, _conserved(gas, primitive), strict=True):
        mean = (a[:-1] * q[:n] + 4.0 * mesh.area_mid[c] * q[n : 2 * n] + a[1:] * q[2 * n :]) / 6.0
        getattr(cells, name)[c] = mean


def stopped_at_walls(gas: Gas, nodes: Nodes, links: EndLinks) -> None:
    """Give nodes at rigid walls the state that gas moving against one, or off it, has there at once.

    The Riemann problem with a wall (Toro 1999, Riemann Solvers, 6.3.3): a shock that brings gas of Mach
    number M to rest,

        p*/p = 1 + g M^2 (k + sqrt(k^2 + 1/M^2)),   k = (g + 1)/4,

    with the density of the Rankine-Hugoniot relation, or the rarefaction p*/p = (1 - (g - 1)/2 M)^(2g/(g-1))
    of gas that is pulled off. Without it the first step would count flow through the wall.
    """
    at = np.isin(links.kind, (CLOSED, PISTON))  # a piston is at rest at t = 0
    places, side = links.node[at].astype(int), links.side[at]
    for k, towards in zip(places, side, strict=True):
        rho, u, p = nodes.rho[k], nodes.u[k], nodes.p[k]
        r = gas_constant(gas, nodes.yf[k], nodes.yb[k])
        g = gamma(gas, nodes.yf[k], nodes.yb[k], p / (rho * r))
        mach = u * towards / np.sqrt(g * p / rho)
        if mach > 0.0:
            k4 = 0.25 * (g + 1.0)
            ratio = 1.0 + g * mach**2 * (k4 + np.sqrt(k4 * k4 + 1.0 / mach**2))
            b = (g - 1.0) / (g + 1.0)
            nodes.rho[k] = rho * (ratio + b) / (b * ratio + 1.0)
        else:
            base = max(1.0 + 0.5 * (g - 1.0) * mach, LEAST_SOUND)
            ratio = base ** (2.0 * g / (g - 1.0))
            nodes.rho[k] = rho * ratio ** (1.0 / g)
        nodes.p[k], nodes.u[k] = p * ratio, 0.0


def _primitive(gas: Gas, state: GasState, x: np.ndarray) -> tuple[np.ndarray, ...]:
    fuel, burned = along(state.fuel, x), along(state.burned, x)
    pressure = along(state.pressure, x)
    r = gas_constant(gas, fuel, burned)
    rho = pressure / (r * along(state.temperature, x))
    return rho, along(state.velocity, x), pressure, fuel, burned


def _conserved(gas: Gas, primitive: tuple[np.ndarray, ...]) -> tuple[np.ndarray, ...]:
    rho, u, p, yf, yb = primitive
    t = p / (rho * gas_constant(gas, yf, yb))
    e = energy(gas, yf, yb, t)
    return rho, rho * u, rho * (e + 0.5 * u * u), rho * yf, rho * yb


def middles_guessed(gas: Gas, nodes: Nodes) -> np.ndarray:
    """Scratch of the reconstruction with a temperature for its first guess."""
    scratch = block(Middle, nodes.p.size)
    temperature = nodes.p / (nodes.rho * gas_constant(gas, nodes.yf, nodes.yb))
    guess = rows(Middle, scratch).temperature
    guess[:] = temperature
    guess[:-1] = 0.5 * (temperature[:-1] + temperature[1:])
    return scratch


def layers_at_rest(nodes: Nodes) -> np.ndarray:
    """Boundary layers that have got used to the speed there is (duct/layer.py)."""
    layer = np.zeros((1 + MEMORIES, nodes.u.size))
    layer[0, :-1] = 0.5 * (nodes.u[:-1] + nodes.u[1:])
    return layer


def volumes_filled(gas: Gas, volumes: dict[str, Volume]) -> tuple[VolumeStates, np.ndarray]:
    """(states of all volumes, their contents at every stage (5, volumes, 6))."""
    n = len(volumes)
    states = rows(VolumeStates, block(VolumeStates, n))
    for b, v in enumerate(volumes.values()):
        r = gas_constant(gas, v.fuel, v.burned)
        states.volume[b], states.p[b], states.temperature[b] = v.size, v.pressure, v.temperature
        states.rho[b] = v.pressure / (r * v.temperature)
        states.yf[b], states.yb[b] = v.fuel, v.burned
        states.gamma[b] = gamma(gas, v.fuel, v.burned, v.temperature)
        states.e[b] = energy(gas, v.fuel, v.burned, v.temperature)
        states.leaving[b] = states.rho[b]
    mass = states.rho * states.volume
    contents = np.zeros((5, n, 6))
    held = np.array([v.kind != RESERVOIR for v in volumes.values()])
    for q, share in enumerate((np.ones(n), states.e, states.yf, states.yb)):
        contents[0, :, q] = np.where(held, mass * share, 0.0)
    return states, contents
