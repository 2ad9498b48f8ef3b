"""Gas properties against independent libraries and hand values."""

import numpy as np
import pytest

from aircolumn.gas import kernels
from aircolumn.gas import species as sp
from aircolumn.gas.humid_air import saturation_pressure, vapour_mole_fraction
from aircolumn.gas.mixture import (
    burned_products,
    moist_air,
    perfect_gas,
    stoichiometric_ratio,
    working_gas,
)

T = np.linspace(300.0, 2000.0, 18)


def test_species_against_cantera():
    ct = pytest.importorskip("cantera", reason="Cantera is not installed (test extra)")
    reference = ct.Solution("gri30.yaml")
    for name in ("N2", "O2", "AR", "CO2", "H2O", "CO", "H2"):
        ours, theirs = getattr(sp, name), reference.species(name).thermo
        for t in T:
            assert ours.molar_cp(t) == pytest.approx(theirs.cp(t), rel=1e-8)
            assert ours.molar_enthalpy(t) == pytest.approx(theirs.h(t), rel=1e-8, abs=10.0)


def test_air_against_coolprop():
    """cp and gamma of dry air at low pressure, 300 to 2000 K."""
    cp = pytest.importorskip("CoolProp.CoolProp", reason="CoolProp is not installed (test extra)")
    gas = working_gas(1.0, 44e6, 0.0).gas
    for t in T:
        ours = kernels.cv_from(kernels.cv_coefficients(gas, 0.0, 0.0), t) + gas.Ra
        assert ours == pytest.approx(cp.PropsSI("C", "T", t, "P", 1e4, "Air"), rel=0.01)
        gamma = cp.PropsSI("C", "T", t, "P", 1e4, "Air") / cp.PropsSI("O", "T", t, "P", 1e4, "Air")
        assert kernels.gamma(gas, 0.0, 0.0, t) == pytest.approx(gamma, rel=0.004)


def test_viscosity_against_coolprop():
    """Sutherland's law falls behind when hot; friction feels it only to the power 0.2."""
    cp = pytest.importorskip("CoolProp.CoolProp", reason="CoolProp is not installed (test extra)")
    for t in np.linspace(260.0, 1500.0, 10):
        reference = cp.PropsSI("V", "T", t, "P", 1e5, "Air")
        allowed = 0.03 if t < 600.0 else 0.08
        assert kernels.viscosity(t) == pytest.approx(reference, rel=allowed)


def test_burned_gas_against_cantera():
    """Frozen stoichiometric products: gas constant and cp."""
    ct = pytest.importorskip("cantera", reason="Cantera is not installed (test extra)")
    products = burned_products(moist_air(0.0), 1.0)
    names = {sp.N2: "N2", sp.AR: "AR", sp.CO: "CO", sp.H2: "H2", sp.CO2: "CO2", sp.H2O: "H2O",
             sp.O2: "O2"}  # fmt: skip
    mix = ct.Solution("gri30.yaml")
    gas = working_gas(1.0, 44e6, 0.0).gas
    for t in T:
        mix.TPX = t, 1e5, {names[s]: n for s, n in products.items() if n > 0.0}
        ours = kernels.cv_from(kernels.cv_coefficients(gas, 0.0, 1.0), t)
        assert ours == pytest.approx(mix.cv_mass, rel=0.006)
        assert gas.Rb == pytest.approx(ct.gas_constant / mix.mean_molecular_weight, rel=5e-5)


def test_heat_of_combustion():
    """Burning at 25 degC releases the lower heating value, whatever energies are counted from."""
    for ratio in (0.85, 1.0, 1.3):
        w = working_gas(ratio, 44e6, 0.01)
        t = sp.REFERENCE_TEMPERATURE
        h = [kernels.energy(w.gas, *y, t) + r * t for y, r in (
            ((0.0, 0.0), w.gas.Ra), ((1.0, 0.0), w.gas.Rf), ((0.0, 1.0), w.gas.Rb))]  # fmt: skip
        before = h[1] + w.air_fuel_ratio * h[0]
        after = (1.0 + w.air_fuel_ratio) * h[2]
        left = w.burned_moles[sp.CO] * 283.0e6 + w.burned_moles[sp.H2] * 241.8e6  # J/kmol
        released = w.heat_release + before - after
        assert released == pytest.approx(44e6 - left / sp.FUEL_MOLAR_MASS, rel=1e-4)


def test_stoichiometric_ratio():
    """Heywood table D.4: gasoline about 14.6."""
    assert stoichiometric_ratio(moist_air(0.0)) == pytest.approx(14.6, abs=0.1)


@pytest.mark.parametrize("ratio", [0.7, 0.9, 1.0, 1.2])
def test_atoms_are_conserved(ratio):
    air = moist_air(0.02)
    p = burned_products(air, ratio)
    oxygen = ratio * (sp.FUEL_CARBON + sp.FUEL_HYDROGEN / 4)
    water = air[sp.H2O] / air[sp.O2] * oxygen
    assert p[sp.CO] + p[sp.CO2] == pytest.approx(sp.FUEL_CARBON)
    assert 2 * (p[sp.H2] + p[sp.H2O]) == pytest.approx(sp.FUEL_HYDROGEN + 2 * water)
    atoms = p[sp.CO] + 2 * p[sp.CO2] + p[sp.H2O] + 2 * p.get(sp.O2, 0.0)
    assert atoms == pytest.approx(2 * oxygen + water)
    assert all(n >= 0 for n in p.values())


def test_temperature_from_energy():
    gas = working_gas(0.9, 44e6, 0.01).gas
    for yf, yb in ((0.0, 0.0), (0.07, 0.1), (0.0, 1.0)):
        for t in (250.0, 400.0, 1200.0, 2800.0):
            e = kernels.energy(gas, yf, yb, t)
            assert kernels.temperature_of(gas, yf, yb, e, t * 1.2) == pytest.approx(t, rel=1e-7)


def test_perfect_gas_is_perfect():
    gas = perfect_gas(1.4, 287.05)
    for t in (200.0, 3000.0):
        assert kernels.gamma(gas, 0.2, 0.3, t) == pytest.approx(1.4, rel=1e-12)


def test_buck_saturation():
    """Buck equation, 20, 25, 30 degC."""
    for t, p in ((20, 2338.3), (25, 3168.5), (30, 4245.1)):
        assert saturation_pressure(t + 273.15) == pytest.approx(p, abs=0.06)


def test_humid_air_against_coolprop():
    humid = pytest.importorskip("CoolProp.HumidAirProp", reason="CoolProp is not installed")
    p, t, rh = 99e3, 303.15, 0.4
    x = vapour_mole_fraction(p, t, rh)
    assert x == pytest.approx(humid.HAPropsSI("psi_w", "T", t, "P", p, "R", rh), rel=0.01)
    gas = working_gas(1.0, 44e6, x).gas
    volume = humid.HAPropsSI("Vha", "T", t, "P", p, "R", rh)  # m3 per kg humid air
    assert p / (gas.Ra * t) == pytest.approx(1.0 / volume, rel=1e-3)
