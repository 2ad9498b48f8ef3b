"""Gas properties against independent libraries and hand values."""

import numpy as np
import pytest

from aircolumn.flow.gas import kernels
from aircolumn.flow.gas import species as sp
from aircolumn.flow.gas.fuels import GASOLINE
from aircolumn.flow.gas.mixture import (
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
    for name in ("N2", "O2", "AR", "CO2", "H2O", "CO", "H2", "OH", "O", "H", "NO", "CH4"):
        ours, theirs = getattr(sp, name), reference.species(name).thermo
        for t in T:
            assert ours.molar_cp(t) == pytest.approx(theirs.cp(t), rel=1e-8)
            assert ours.molar_enthalpy(t) == pytest.approx(theirs.h(t), rel=1e-8, abs=10.0)
            assert ours.molar_entropy(t) == pytest.approx(theirs.s(t), rel=1e-4)


def test_heat_of_combustion():
    """Burning at 25 degC releases the lower heating value, whatever energies are counted from."""
    for ratio in (0.85, 1.0, 1.3):
        w = working_gas(ratio, GASOLINE, 0.01)
        t = sp.REFERENCE_TEMPERATURE
        h = [
            kernels.energy(w.gas, *y, t) + r * t
            for y, r in (((0.0, 0.0), w.gas.Ra), ((1.0, 0.0), w.gas.Rf), ((0.0, 1.0), w.gas.Rb))
        ]
        before = h[1] + w.air_fuel_ratio * h[0]
        after = (1.0 + w.air_fuel_ratio) * h[2]
        left = w.burned_moles[sp.CO] * 283.0e6 + w.burned_moles[sp.H2] * 241.8e6  # J/kmol
        released = w.heat_release + before - after
        assert released == pytest.approx(43.45e6 - left / GASOLINE.molar_mass, rel=1e-4)


def test_stoichiometric_ratio():
    """Heywood table D.4: gasoline about 14.6."""
    assert stoichiometric_ratio(moist_air(0.0)) == pytest.approx(14.6, abs=0.1)


@pytest.mark.parametrize("ratio", [0.7, 0.9, 1.0, 1.2])
def test_atoms_are_conserved(ratio):
    air = moist_air(0.02)
    p = burned_products(air, ratio)
    oxygen = ratio * (GASOLINE.carbon + GASOLINE.hydrogen / 4)
    water = air[sp.H2O] / air[sp.O2] * oxygen
    assert p[sp.CO] + p[sp.CO2] == pytest.approx(GASOLINE.carbon)
    assert 2 * (p[sp.H2] + p[sp.H2O]) == pytest.approx(GASOLINE.hydrogen + 2 * water)
    atoms = p[sp.CO] + 2 * p[sp.CO2] + p[sp.H2O] + 2 * p.get(sp.O2, 0.0)
    assert atoms == pytest.approx(2 * oxygen + water)
    assert all(n >= 0 for n in p.values())


def test_temperature_from_energy():
    gas = working_gas(0.9, GASOLINE, 0.01).gas
    for yf, yb in ((0.0, 0.0), (0.07, 0.1), (0.0, 1.0)):
        for t in (250.0, 400.0, 1200.0, 2800.0):
            e = kernels.energy(gas, yf, yb, t)
            assert kernels.temperature_of(gas, yf, yb, e, t * 1.2) == pytest.approx(t, rel=1e-7)


def test_perfect_gas_is_perfect():
    gas = perfect_gas(1.4, 287.05)
    for t in (200.0, 3000.0):
        assert kernels.gamma(gas, 0.2, 0.3, t) == pytest.approx(1.4, rel=1e-12)


def test_heat_capacity_is_bounded_beyond_the_fit():
    """The polynomials turn negative beyond 3200 K; the volumes' relations do not."""
    gas = working_gas(1.0, GASOLINE, 0.01).gas
    c = kernels.cv_coefficients(gas, 0.0, 1.0)
    assert kernels.cv_from(c, 5000.0) < 0.0
    assert kernels.cv_at_most(c, 5000.0) == kernels.cv_from(c, kernels.HOTTEST) > 1000.0
    at_end = kernels.energy_from(c, kernels.HOTTEST)
    for t in (2500.0, 3200.0, 3600.0, 5000.0):
        fitted = min(t, kernels.HOTTEST)
        e = kernels.energy_from(c, fitted) + (t - fitted) * kernels.cv_at_most(c, t)
        assert kernels.temperature_of(gas, 0.0, 1.0, e, 0.9 * t) == pytest.approx(t, rel=1e-6)
    assert kernels.temperature_of(gas, 0.0, 1.0, 1.5 * at_end, 2000.0) > 4000.0


def test_fuels_of_one_species_against_cantera():
    ct = pytest.importorskip("cantera", reason="Cantera is not installed (test extra)")
    theirs = {s.name: s.thermo for s in ct.Species.list_from_file("nasa_gas.yaml")}
    for name, known in (("C2H5OH", "C2H5OH"), ("CH3OH", "CH3OH"), ("C3H8", "C3H8")):
        ours, reference = getattr(sp, name), theirs[known]
        for t in T:
            assert ours.molar_cp(t) == pytest.approx(reference.cp(t), rel=1e-6)
            assert ours.molar_enthalpy(t) == pytest.approx(reference.h(t), rel=1e-6, abs=1e3)
            assert ours.molar_entropy(t) == pytest.approx(reference.s(t), rel=1e-5)
