"""Burned gas in equilibrium, and the constant-volume fuel-air cycle, against Cantera (test extra).

States at random: energy above the frozen gas at 25 degC and gas constant, 1200 to 3000 K, 1 to
100 bar, every named fuel, lambda 0.7 to 1.4 (full GRI-Mech 3.0 set in Cantera).

Cycle: n-octane vapour and dry air at 333 K and 101 325 Pa, compressed frozen, burned at constant
volume, expanded in equilibrium, all without heat; efficiency on 44.4 MJ/kg (Heywood 1988, ch. 5,
has it as the fuel-air cycle; computed here with Cantera, and with the marched cylinder). No
residual gas.
"""

from functools import lru_cache

import numpy as np

from aircolumn import GasState, Network, straight, working_gas
from aircolumn.flow.gas import species as sp
from aircolumn.flow.gas.fuels import FUELS, pure
from aircolumn.flow.gas.kernels import energy
from aircolumn.flow.gas.products import beyond_frozen
from validation.check import Check
from validation.engine_parts import cylinder

NEEDS = ("cantera",)
SOURCE = "Cantera, GRI 3.0 and NASA data"
ON, T1, P1 = 44.4e6, 333.0, 101325.0
NAMES = {getattr(sp, n): n for n in ("N2", "O2", "AR", "CO2", "H2O", "CO", "H2")}
CYCLES = ((10.0, (0.8, 1.0, 1.1, 1.2)), (8.0, (0.8, 1.0, 1.1, 1.2)))


def state_errors(count: int, seed: int) -> tuple[float, float]:
    """Largest relative errors of energy and gas constant at random states."""
    import cantera

    mix = cantera.Solution("gri30.yaml")
    rng = np.random.default_rng(seed)
    worst = np.zeros(2)
    for _ in range(count):
        fuel = FUELS[rng.choice(list(FUELS))]
        gas = working_gas(round(rng.uniform(0.7, 1.4), 1), fuel)
        t, p = rng.uniform(1200.0, 3000.0), 1e5 * 100.0 ** rng.uniform()
        mix.TPX = 298.15, p, {NAMES[s]: max(n, 0.0) for s, n in gas.burned_moles.items()}
        reference = mix.int_energy_mass
        mix.TP = t, p
        mix.equilibrate("TP")
        held, _, more = beyond_frozen(gas.products, t, np.log(mix.density))
        e = held + energy(gas.gas, 0.0, 1.0, t) - energy(gas.gas, 0.0, 1.0, 298.15)
        r = cantera.gas_constant / mix.mean_molecular_weight
        found = e / (mix.int_energy_mass - reference), (gas.gas.Rb + more) / r
        worst = np.maximum(worst, np.abs(np.array(found) - 1.0))
    return float(worst[0]), float(worst[1])


@lru_cache(maxsize=1)
def octane():
    """n-octane's NASA polynomials as Cantera has them: (Cantera's species, Fuel)."""
    import cantera

    theirs = next(s for s in cantera.Species.list_from_file("nasa_gas.yaml") if s.name == "C8H18,n-octane")
    c = theirs.thermo.coeffs
    return theirs, pure(sp.Species(theirs.molecular_weight, tuple(c[8:15]), tuple(c[1:8])), 8, 18, 0)


def cantera_efficiency(ratio: float, richness: float) -> float:
    """Work over ON times fuel, by Cantera."""
    import cantera

    species = cantera.Solution("gri30.yaml").species()
    mix = cantera.Solution(thermo="ideal-gas", species=[*species, octane()[0]])
    mix.TP = T1, P1
    mix.set_equivalence_ratio(richness, octane()[0].name, {NAMES[s]: x for s, x in sp.DRY_AIR.items()})
    fuel, v, u, s = mix[octane()[0].name].Y[0], mix.v, mix.int_energy_mass, mix.entropy_mass
    mix.SV = s, v / ratio
    compressed = mix.int_energy_mass
    mix.equilibrate("UV")
    burned, s = mix.int_energy_mass, mix.entropy_mass
    low, high = 900.0, mix.T  # shifting expansion to v: bisection for the entropy
    for _ in range(60):
        t = 0.5 * (low + high)
        mix.TD = t, 1.0 / v
        mix.equilibrate("TV")
        low, high = (t, high) if mix.entropy_mass < s else (low, t)
    return float((burned - mix.int_energy_mass - (compressed - u)) / (fuel * ON))


def marched_efficiency(ratio: float, richness: float) -> float:
    """The same with the marched cylinder, burning within a tenth of a degree."""
    gas = working_gas(1.0 / richness, octane()[1])
    net = Network(gas.gas, products=gas.products)
    fuel = 1.0 / (1.0 + gas.air_fuel_ratio)
    parts = cylinder(
        ratio, "bottom", heat_release=gas.heat_release, burn_start=-0.1, air_fuel_ratio=gas.air_fuel_ratio
    )
    net.cylinder("cylinder", parts, P1, T1, fuel=fuel)
    net.duct("clock", straight(0.1, 0.02), 4, GasState(pressure=P1, temperature=300.0))
    net.closed("clock", "left")
    net.closed("clock", "right")
    run = net.ready(angle=540.0)
    omega = 2 * np.pi * 50.0
    run.march(2 * np.pi / omega, omega=omega, courant=0.2)
    return float(run.chambers.work[0] / (run.chambers.burned_fuel[0] * ON))


def checks():
    """States, then cycles."""
    energy_off, constant_off = state_errors(300, 7)
    rows = [
        Check("equilibrium", "energy, worst of 300 states", 0.002, energy_off, 0, SOURCE, "at most"),
        Check("equilibrium", "gas constant, the same", 0.002, constant_off, 0, SOURCE, "at most"),
    ]
    for ratio, mixtures in CYCLES:
        for richness in mixtures:
            label = f"efficiency, r {ratio:g}, equivalence ratio {richness:g}"
            rows.append(
                Check(
                    "fuel-air cycle",
                    label,
                    cantera_efficiency(ratio, richness),
                    marched_efficiency(ratio, richness),
                    0.003,
                    SOURCE,
                )
            )
    return rows


def draw(axes):
    """Efficiency against equivalence ratio."""
    richness = np.array((0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3))
    for ratio, line in ((10.0, "k-"), (8.0, "k--")):
        exact = [cantera_efficiency(ratio, x) for x in richness]
        axes.plot(richness, exact, line, lw=1, label=f"Cantera, r {ratio:g}")
        axes.plot(
            richness,
            [marched_efficiency(ratio, x) for x in richness],
            "o",
            mfc="none",
            label=f"computed, r {ratio:g}",
        )
    axes.set(xlabel="equivalence ratio", ylabel="efficiency", title="Fuel-air cycle")
    axes.legend()
