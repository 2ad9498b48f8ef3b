"""Gas properties against independent libraries (test extras).

Air: CoolProp (cp, gamma, viscosity, humid-air density and saturation). Burned stoichiometric gas:
Cantera with the composition frozen, as in the ducts (in equilibrium, as in the cylinder: see
case_fuel_air_cycle). Buck equation: 2338.3, 3168.5, 4245.1 Pa at 20, 25, 30 degC.
"""

import numpy as np

from aircolumn.flow.gas import kernels
from aircolumn.flow.gas import species as sp
from aircolumn.flow.gas.fuels import GASOLINE
from aircolumn.flow.gas.humid_air import vapour_mole_fraction, water_saturation_pressure
from aircolumn.flow.gas.mixture import burned_products, moist_air, working_gas
from validation.check import Check

TEMPERATURES = (300.0, 600.0, 1000.0, 1500.0, 2000.0)
NAMES = {sp.N2: "N2", sp.AR: "AR", sp.CO: "CO", sp.H2: "H2", sp.CO2: "CO2", sp.H2O: "H2O", sp.O2: "O2"}
NEEDS = ("CoolProp", "cantera")


def cp_of(gas, yf, yb, t):
    """cp of the solver's mixture, J/(kg K)."""
    r = kernels.gas_constant(gas, yf, yb)
    return kernels.cv_from(kernels.cv_coefficients(gas, yf, yb), t) + r


def air_checks():
    """Dry and humid air."""
    from CoolProp.CoolProp import PropsSI
    from CoolProp.HumidAirProp import HAPropsSI

    gas = working_gas(1.0, GASOLINE, 0.0).gas
    rows = []
    for t in TEMPERATURES:
        cp, cv = (PropsSI(q, "T", t, "P", 1e4, "Air") for q in "CO")
        rows.append(Check("air", f"cp at {t:.0f} K", cp, cp_of(gas, 0, 0, t), 0.01, "CoolProp"))
        gamma = kernels.gamma(gas, 0.0, 0.0, t)
        rows.append(Check("air", f"gamma at {t:.0f} K", cp / cv, gamma, 0.004, "CoolProp"))
    for t, allowed in ((300.0, 0.01), (600.0, 0.03), (1200.0, 0.08)):
        mu = PropsSI("V", "T", t, "P", 1e5, "Air")
        ours = kernels.viscosity(t)
        rows.append(Check("air", f"viscosity at {t:.0f} K", mu, ours, allowed, "CoolProp"))
    p, t, rh = 99e3, 303.15, 0.4
    x = vapour_mole_fraction(p, t, rh)
    ours = p / (working_gas(1.0, GASOLINE, x).gas.Ra * t)
    theirs = 1.0 / HAPropsSI("Vha", "T", t, "P", p, "R", rh)
    rows.append(Check("humid air", "density at 30 degC, 40 %", theirs, ours, 0.001, "CoolProp"))
    for c, digits in ((20, 2338.3), (25, 3168.5), (30, 4245.1)):
        ours = water_saturation_pressure(c + 273.15)
        rows.append(Check("humid air", f"saturation at {c} degC", digits, ours, 2e-5, "Buck 1996"))
        theirs = PropsSI("P", "T", c + 273.15, "Q", 1, "Water")
        rows.append(Check("humid air", f"saturation at {c} degC", theirs, ours, 0.002, "CoolProp"))
    return rows


def burned_checks():
    """Frozen composition."""
    import cantera

    mix = cantera.Solution("gri30.yaml")
    products = burned_products(moist_air(0.0), 1.0)
    moles = {NAMES[s]: n for s, n in products.items() if n > 0.0}
    gas = working_gas(1.0, GASOLINE, 0.0).gas
    rows = []
    for t in TEMPERATURES:
        mix.TPX = t, 20e5, moles
        rows.append(
            Check(
                "burned gas",
                f"cp frozen at {t:.0f} K",
                mix.cp_mass,
                cp_of(gas, 0.0, 1.0, t),
                0.006,
                "Cantera, GRI 3.0 data",
            )
        )
    return rows


def checks():
    """Both gases."""
    return air_checks() + burned_checks()


def draw(axes):
    """cp of air and burned gas against the libraries."""
    import cantera
    from CoolProp.CoolProp import PropsSI

    mix = cantera.Solution("gri30.yaml")
    products = burned_products(moist_air(0.0), 1.0)
    moles = {NAMES[s]: n for s, n in products.items() if n > 0.0}
    gas = working_gas(1.0, GASOLINE, 0.0).gas
    t = np.linspace(300.0, 2500.0, 45)
    burned = []
    for value in t:
        mix.TPX = value, 20e5, moles
        burned.append(mix.cp_mass)
    low = t[t <= 2000.0]
    axes.plot(low, [PropsSI("C", "T", v, "P", 1e4, "Air") for v in low], "k-", label="CoolProp, air")
    axes.plot(t, [cp_of(gas, 0, 0, v) for v in t], "o", mfc="none", ms=4, label="computed, air")
    axes.plot(t, burned, "k--", label="Cantera, burned gas (frozen)")
    axes.plot(t, [cp_of(gas, 0, 1, v) for v in t], "s", mfc="none", ms=4, label="computed, burned")
    axes.set(xlabel="temperature, K", ylabel="cp, J/(kg K)", title="Heat capacity of the working gases")
    axes.legend()
