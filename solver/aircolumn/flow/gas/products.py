"""Burned gas in equilibrium, as a table for the kernels: what it holds beyond the frozen gas.

Against temperature and the logarithm of density stand, per kilogram of burned gas, the energy held
beyond that of the frozen gas of mixture.py (J/kg: dissociation, and the little by which the fitted
cv misses) and the gas constant beyond its (J/(kg K)). Equilibrium is solved at Chebyshev points of
1/T and ln rho and interpolated with their polynomials (Trefethen, Approximation Theory and
Approximation Practice, 2013); the kernels read the table bilinearly. Below FROZEN nothing is added,
up to EQUILIBRIUM more and more: real exhaust gas keeps the composition it had at about 1700 K
(Heywood 1988, section 4.9), and what equilibrium would still change there is small.
"""

from math import log

import numpy as np
from numpy.polynomial import chebyshev

from aircolumn.flow.compiled.decorators import inlined
from aircolumn.flow.gas import equilibrium
from aircolumn.flow.gas import species as sp
from aircolumn.flow.gas.kernels import HOTTEST, cv_coefficients, energy_from

FROZEN, EQUILIBRIUM = 1000.0, 1200.0  # K
STEP, LOG_STEP = 25.0, 0.2  # K; of ln rho
TEMPERATURES = np.arange(FROZEN, 3600.1, STEP)  # K
THINNEST, DENSEST = 0.05, 60.0  # kg/m3
LOG_DENSITIES = np.arange(log(THINNEST), log(DENSEST) + LOG_STEP, LOG_STEP)
PER_STEP, PER_LOG_STEP, FIRST_LOG = 1.0 / STEP, 1.0 / LOG_STEP, log(THINNEST)
ROWS, COLUMNS = TEMPERATURES.size, LOG_DENSITIES.size
POINTS = 20, 12  # Chebyshev points in 1/T and ln rho
#: For gases that do not dissociate.
NOTHING = np.zeros((0, 0, 2))


def products_table(gas, moles: dict) -> np.ndarray:
    """Table (temperatures, densities, 2) for the burned gas ``moles`` ({species: kmol}) of the
    working gases ``gas``."""
    inverse = _nodes(1.0 / TEMPERATURES[-1], 1.0 / TEMPERATURES[0], POINTS[0])
    logs = _nodes(LOG_DENSITIES[0], LOG_DENSITIES[-1], POINTS[1])
    t, log_rho = (a.ravel() for a in np.meshgrid(1.0 / inverse, logs, indexing="ij"))
    held, constant = equilibrium.energy_and_constant(moles, t, np.exp(log_rho))
    added = np.array([held - _frozen_energy(gas, moles, t), constant - gas.Rb])
    fine = _interpolated(added.reshape(2, *POINTS), inverse, logs)
    ramp = np.clip((TEMPERATURES - FROZEN) / (EQUILIBRIUM - FROZEN), 0.0, 1.0)
    return np.ascontiguousarray(np.moveaxis(fine, 0, 2) * (ramp * ramp * (3.0 - 2.0 * ramp))[:, None, None])


def _frozen_energy(gas, moles, temperature):
    """Energy of the frozen gas of the kernels, counted like that of the equilibrium, J/kg."""
    mass = sum(n * s.molar_mass for s, n in moles.items())
    t = sp.REFERENCE_TEMPERATURE
    formed = sum(n * (s.molar_enthalpy(t) - sp.GAS_CONSTANT * t) for s, n in moles.items()) / mass
    c = cv_coefficients(gas, 0.0, 1.0)
    fitted = np.minimum(temperature, HOTTEST)
    beyond = (temperature - fitted) * _cv(c, HOTTEST)
    return formed + energy_from(c, fitted) + beyond - energy_from(c, t)


def _cv(c, temperature):
    return np.polynomial.polynomial.polyval(temperature / 1000.0, c)


def _nodes(low, high, count):
    return 0.5 * (low + high) + 0.5 * (high - low) * chebyshev.chebpts1(count)


def _interpolated(values, inverse, logs):
    """``values`` (q, nodes of 1/T, nodes of ln rho) at the places of the table."""
    matrices = []
    for nodes, places in ((inverse, 1.0 / TEMPERATURES), (logs, LOG_DENSITIES)):
        low, high = nodes[0], nodes[-1]
        scale = chebyshev.chebpts1(nodes.size)[-1] * 2.0 / (high - low)
        middle = 0.5 * (low + high)
        at_nodes = chebyshev.chebvander(scale * (nodes - middle), nodes.size - 1)
        at_places = chebyshev.chebvander(scale * (places - middle), nodes.size - 1)
        matrices.append(at_places @ np.linalg.inv(at_nodes))
    return np.einsum("ti,qij,dj->qtd", matrices[0], values, matrices[1])


@inlined
def beyond_frozen(table, temperature, log_density):
    """Energy (J/kg), its slope (J/(kg K)) and gas constant (J/(kg K)) that a kilogram of burned gas
    has beyond the frozen gas; zeros below FROZEN or without a table."""
    if temperature <= FROZEN or table.shape[0] == 0:
        return 0.0, 0.0, 0.0
    x = (temperature - FROZEN) * PER_STEP
    y = min(max((log_density - FIRST_LOG) * PER_LOG_STEP, 0.0), COLUMNS - 1.001)
    i, j = min(int(x), ROWS - 2), int(y)
    y -= j
    x -= i
    e0 = table[i, j, 0] + y * (table[i, j + 1, 0] - table[i, j, 0])
    e1 = table[i + 1, j, 0] + y * (table[i + 1, j + 1, 0] - table[i + 1, j, 0])
    r0 = table[i, j, 1] + y * (table[i, j + 1, 1] - table[i, j, 1])
    r1 = table[i + 1, j, 1] + y * (table[i + 1, j + 1, 1] - table[i + 1, j, 1])
    return e0 + x * (e1 - e0), (e1 - e0) * PER_STEP, r0 + x * (r1 - r0)
