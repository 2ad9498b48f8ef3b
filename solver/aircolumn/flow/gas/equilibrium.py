"""Burned gas in chemical equilibrium at given temperature and density.

Twelve species of C, H, O, N and argon. At the minimum of the Helmholtz energy each concentration
follows from one potential per element (element potentials: Reynolds 1986; White, Johnson & Dantzig,
J. Chem. Phys. 28, 1958):

    ln c_k = -g_k(T)/(R T) - ln(R T/p0) + sum_i a_ki pi_i,    sum_k a_ki c_k = c_i

with g_k the molar Gibbs energy at p0, a_ki the atoms i in species k and c_i what there is of the
element, kmol/m3. Four equations in four pi_i (argon stays what it is), solved by Newton for all
states at once: they are the gradient of a convex function, so shortened steps cannot miss.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.flow.gas import species as sp

if TYPE_CHECKING:
    from aircolumn.flow.gas.species import Species

SPECIES = (sp.CO2, sp.CO, sp.H2O, sp.H2, sp.O2, sp.N2, sp.OH, sp.O, sp.H, sp.NO, sp.CH4)
#: Atoms of C, H, O, N in each.
ATOMS = np.array(
    [
        (1, 0, 2, 0),
        (1, 0, 1, 0),
        (0, 2, 1, 0),
        (0, 2, 0, 0),
        (0, 0, 2, 0),
        (0, 0, 0, 2),
        (0, 1, 1, 0),
        (0, 0, 1, 0),
        (0, 1, 0, 0),
        (0, 0, 1, 1),
        (1, 4, 0, 0),
    ],
    dtype=float,
)
LONGEST_STEP = 2.0  # of ln c
CLOSE = 1e-10  # relative, of each element
MOST_STEPS = 200
TRACE = 1e-6  # share of what there is none of in the mixture that is given, for a first guess


def elements(moles: dict) -> np.ndarray:
    """Atoms of C, H, O, N in a mixture given as {species: moles}."""
    return sum(n * ATOMS[SPECIES.index(s)] for s, n in moles.items() if s is not sp.AR)


def concentrations(moles: dict, temperature: np.ndarray, density: np.ndarray) -> np.ndarray:
    """Equilibrium of a mixture.

    Parameters
    ----------
    moles : dict
        {Species: kmol}, any composition with the right elements.
    temperature, density : array (n,)
        K and kg/m3.

    Returns
    -------
    array (species, n)
        kmol/m3 of each of SPECIES.

    Raises
    ------
    ValueError
        If an element is missing, or Newton does not get there.
    """
    t, rho = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(density, float))
    mass = sum(n * s.molar_mass for s, n in moles.items())
    present = elements(moles)[:, None] / mass * rho  # kmol/m3 of each element
    if np.any(present <= 0.0):
        raise ValueError("equilibrium needs carbon, hydrogen, oxygen and nitrogen")
    g = np.array(
        [s.molar_enthalpy(t) / (sp.GAS_CONSTANT * t) - s.molar_entropy(t) / sp.GAS_CONSTANT for s in SPECIES]
    )
    base = -g - np.log(sp.GAS_CONSTANT * t / sp.PRESSURE)
    potential = _guess(moles, mass, rho, base)
    for _ in range(MOST_STEPS):
        c = np.exp(base + ATOMS @ potential)
        off = present - ATOMS.T @ c
        if np.all(np.abs(off) < CLOSE * present):
            return c
        slope = np.einsum("ki,kj,kn->nij", ATOMS, ATOMS, c)
        step = np.linalg.solve(slope, off.T[..., None])[..., 0].T
        longest = np.max(np.abs(ATOMS @ step), axis=0)
        potential += step * np.minimum(1.0, LONGEST_STEP / np.maximum(longest, 1e-300))
    raise ValueError("no equilibrium found")


def _guess(moles: dict[Species, float], mass: float, rho: np.ndarray, base: np.ndarray) -> np.ndarray:
    """Potentials from the species there is most of."""

    def log_of(species: Any, least: Any = 0.0) -> Any:
        n = max(moles.get(species, 0.0), least) or TRACE * sum(moles.values())
        return np.log(n / mass * rho) - base[SPECIES.index(species)]

    carbon = moles[sp.CO2]
    nitrogen = 0.5 * log_of(sp.N2)
    if moles.get(sp.O2, 0.0) > 0.0:
        oxygen = 0.5 * log_of(sp.O2)
    else:
        oxygen = log_of(sp.CO2) - log_of(sp.CO, 1e-3 * carbon)
    hydrogen = 0.5 * (log_of(sp.H2O) - oxygen)
    return np.array([log_of(sp.CO2) - 2.0 * oxygen, hydrogen, oxygen, nitrogen])


def energy_and_constant(
    moles: dict, temperature: np.ndarray, density: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Internal energy with formation (J/kg) and gas constant (J/(kg K)) in equilibrium; arrays (n,)
    as for :func:`concentrations`."""
    t, rho = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(density, float))
    c = concentrations(moles, t, rho)
    argon = moles.get(sp.AR, 0.0) / sum(n * s.molar_mass for s, n in moles.items()) * rho
    h = np.array([s.molar_enthalpy(t) for s in SPECIES])
    total = c.sum(axis=0) + argon
    enthalpy = (c * h).sum(axis=0) + argon * sp.AR.molar_enthalpy(t)
    return (enthalpy - sp.GAS_CONSTANT * t * total) / rho, sp.GAS_CONSTANT * total / rho
