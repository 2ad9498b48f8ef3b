"""Fuels as data against independent libraries and handbooks; burned gas in equilibrium."""

import numpy as np
import pytest

from aircolumn.flow.gas import equilibrium
from aircolumn.flow.gas import species as sp
from aircolumn.flow.gas.fuels import ETHANOL, FUELS, GASOLINE, METHANOL, blend, like_gasoline
from aircolumn.flow.gas.kernels import energy, gas_constant
from aircolumn.flow.gas.mixture import moist_air, stoichiometric_ratio, working_gas
from aircolumn.flow.gas.products import EQUILIBRIUM, FROZEN, NOTHING, beyond_frozen

#: Heywood 1988, table D.4 (from memory): air-fuel ratio, lower heating value MJ/kg, latent heat
#: kJ/kg (none for what is a gas).
HANDBOOK = {
    "gasoline": (14.6, 43.1, 350.0),  # heating value and latent heat: see gas/fuels.py
    "ethanol": (9.0, 26.9, 840.0),
    "methanol": (6.47, 20.0, 1103.0),
    "methane": (17.23, 50.0, 0.0),
    "propane": (15.67, 46.4, 0.0),
}


@pytest.mark.parametrize("name", HANDBOOK)
def test_handbook(name):
    ratio, heating_value, latent = HANDBOOK[name]
    fuel = FUELS[name]
    assert stoichiometric_ratio(moist_air(0.0), fuel) == pytest.approx(ratio, rel=0.006)
    assert 1e-6 * fuel.heating_value == pytest.approx(heating_value, rel=0.01)
    # handbooks give latent heats at the boiling point: up to a tenth below those at 25 degC
    assert 1e-3 * fuel.latent_heat == pytest.approx(latent, rel=0.1)


def test_latent_heats_at_25_degc_against_coolprop():
    cool = pytest.importorskip("CoolProp.CoolProp", reason="CoolProp is not installed (test extra)")
    for fuel, name in ((ETHANOL, "Ethanol"), (METHANOL, "Methanol")):
        gas, liquid = (cool.PropsSI("H", "T", 298.15, "Q", q, name) for q in (1, 0))
        assert fuel.latent_heat == pytest.approx(gas - liquid, rel=0.01)


def test_blends():
    """E85: 85 parts of 0.789 kg/L and 15 of 0.745 are 85.7 % by mass; about 9.8 : 1 and 29.2 MJ/kg
    (common practice, no source)."""
    e85 = FUELS["e85"]
    share = 0.85 * 0.789 / (0.85 * 0.789 + 0.15 * 0.745)
    assert e85.heating_value == pytest.approx(
        share * ETHANOL.heating_value + (1.0 - share) * GASOLINE.heating_value
    )
    assert stoichiometric_ratio(moist_air(0.0), e85) == pytest.approx(9.8, abs=0.1)
    assert 1e-6 * e85.heating_value == pytest.approx(29.2, abs=0.2)
    half = blend(GASOLINE, ETHANOL, 0.5)
    carbon, hydrogen, oxygen = (
        0.5 * (getattr(GASOLINE, n) / GASOLINE.molar_mass + getattr(ETHANOL, n) / ETHANOL.molar_mass)
        for n in ("carbon", "hydrogen", "oxygen")
    )
    for name, atoms in zip(("carbon", "hydrogen", "oxygen"), (carbon, hydrogen, oxygen), strict=True):
        assert getattr(half, name) / half.molar_mass == pytest.approx(atoms)
    per_kg = [f.molar_cp(400.0) / f.molar_mass for f in (half, GASOLINE, ETHANOL)]
    assert per_kg[0] == pytest.approx(0.5 * (per_kg[1] + per_kg[2]))


def test_a_fuel_of_ones_own_has_gasolines_heat_capacity_by_mass():
    own = like_gasoline(7.0, 14.0, 0.0, 43e6, 320e3)
    per_kg = [f.molar_cp(500.0) / f.molar_mass for f in (own, GASOLINE)]
    assert per_kg[0] == pytest.approx(per_kg[1])
    assert (own.heating_value, own.latent_heat) == (43e6, 320e3)


def test_vapour_releases_the_latent_heat_too():
    """The heating value is of the liquid; what burns is its vapour."""
    for name, fuel in FUELS.items():
        released = working_gas(1.0, fuel).released
        assert released == pytest.approx(fuel.heating_value + fuel.latent_heat), name


def test_water_gas_equilibrium_at_a_known_state():
    """K = [H2O][CO]/([CO2][H2]) at 1740 K is about 3.5 (Heywood 1988, eq. 4.61)."""
    moles = working_gas(0.85).burned_moles
    c = dict(zip(equilibrium.SPECIES, equilibrium.concentrations(moles, [1740.0], [1.0])[:, 0], strict=True))
    assert c[sp.H2O] * c[sp.CO] / (c[sp.CO2] * c[sp.H2]) == pytest.approx(3.5, rel=0.03)


def test_equilibrium_keeps_atoms_and_mass():
    moles = working_gas(0.9, FUELS["e10"], 0.01).burned_moles
    t, rho = np.array([1000.0, 1800.0, 3000.0]), np.array([0.1, 2.0, 30.0])
    c = equilibrium.concentrations(moles, t, rho)
    atoms = equilibrium.elements(moles)
    mass = sum(n * s.molar_mass for s, n in moles.items())
    assert equilibrium.ATOMS.T @ c == pytest.approx(atoms[:, None] / mass * rho, rel=1e-8)
    with pytest.raises(ValueError, match="needs carbon, hydrogen, oxygen and nitrogen"):
        equilibrium.concentrations({sp.N2: 1.0, sp.O2: 1.0, sp.CO2: 0.0, sp.H2O: 0.1}, t, rho)


def test_dissociation_grows_with_heat_and_shrinks_with_pressure():
    table = working_gas(1.0).products
    hot = [beyond_frozen(table, t, np.log(2.0))[0] for t in (1500.0, 2000.0, 2500.0, 3000.0)]
    assert hot == sorted(hot)
    assert beyond_frozen(table, 2800.0, np.log(0.2))[2] > beyond_frozen(table, 2800.0, np.log(20))[2]


def test_slope_and_edges_of_the_table():
    """The slope is the energy's; nothing below FROZEN, nothing without a table; outside the
    densities the last ones stand."""
    table = working_gas(0.95).products
    e0, slope, _ = beyond_frozen(table, 2203.0, 0.5)
    e1 = beyond_frozen(table, 2204.0, 0.5)[0]
    assert e1 - e0 == pytest.approx(slope, rel=1e-9)
    assert beyond_frozen(table, FROZEN, 0.5) == (0.0, 0.0, 0.0)
    assert beyond_frozen(NOTHING, 2500.0, 0.5) == (0.0, 0.0, 0.0)
    thin = [beyond_frozen(table, 2500.0, log_rho) for log_rho in (-9.0, np.log(0.05))]
    assert thin[0] == pytest.approx(thin[1])
    assert abs(beyond_frozen(table, FROZEN + 1.0, 0.5)[0]) < 20.0  # it sets in gently


@pytest.mark.parametrize("ratio", [0.8, 1.0, 1.3])
def test_table_is_the_equilibrium(ratio):
    """Energy and gas constant read from the table against equilibrium solved there."""
    w = working_gas(ratio)
    t, rho = np.array([1300.0, 1815.0, 2333.0, 2900.0]), np.array([0.3, 1.1, 4.0, 15.0])
    held, constant = equilibrium.energy_and_constant(w.burned_moles, t, rho)
    cold, _ = equilibrium.energy_and_constant(w.burned_moles, [EQUILIBRIUM], [1.0])
    read = [beyond_frozen(w.products, a, np.log(b)) for a, b in zip(t, rho, strict=True)]
    here = [energy(w.gas, 0.0, 1.0, a) + r[0] for a, r in zip(t, read, strict=True)]
    start = energy(w.gas, 0.0, 1.0, EQUILIBRIUM) + beyond_frozen(w.products, EQUILIBRIUM, 0.0)[0]
    assert np.array(here) - start == pytest.approx(held - cold, rel=1e-3)
    found = [gas_constant(w.gas, 0.0, 1.0) + r[2] for r in read]
    assert found == pytest.approx(constant, rel=3e-4)
