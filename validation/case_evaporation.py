"""How much fuel can be vapour: saturation curves, air that fuel has cooled, a cylinder's charge.

- Saturation pressures of pure fuels: the reference equations of state in CoolProp.
- Gasoline's law (gas/volatility.py) against a blend of alkanes (CoolProp's curves, Raoult's law,
  flash by Rachford & Rice, Trans. AIME 195, 1952): with the two boiling points that hold at 300 K
  for 10 and 90 % of vapour, the law tells the blend's pressure for 50 % and at 270 and 330 K within
  30 % (4 K). Its Reid vapour pressure lies within the limits of EN 228 (45 to 100 kPa over all
  classes; from memory).
- Air that liquid of 25 degC evaporates in until it is saturated: balance of enthalpies of CoolProp.
- A cylinder with direct injection: the vapour in the charge at valve closing against CoolProp's
  saturation pressure at its temperature. The second law allows no more; without the bound methanol
  stood at more than ten times that.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

import aircolumn
from aircolumn.engine.model.mixture import ambient_gas, drawn
from aircolumn.engine.model.operating_point import converged
from aircolumn.flow.gas import volatility
from aircolumn.flow.gas.fuels import FUELS
from validation.check import Check

NEEDS = ("CoolProp",)
DEMO = Path(__file__).resolve().parent.parent / "configs" / "rescue-four.yaml"
COOLPROP = "CoolProp"
PURE = {"methanol": "Methanol", "ethanol": "Ethanol", "propane": "Propane"}
#: A blend like gasoline, mole fractions; boiling points span those of the law.
BLEND = {
    "n-Butane": 0.05,
    "n-Pentane": 0.22,
    "n-Hexane": 0.22,
    "n-Heptane": 0.2,
    "n-Octane": 0.17,
    "n-Nonane": 0.14,
}
COLD = (270.0, 300.0, 330.0)  # K


def saturation(temperature, name) -> float:
    """Pa, by CoolProp."""
    from CoolProp.CoolProp import PropsSI

    return PropsSI("P", "T", temperature, "Q", 0, name)


def enthalpy(temperature, pressure, name) -> float:
    """J/kg, by CoolProp."""
    from CoolProp.CoolProp import PropsSI

    return PropsSI("H", "T", temperature, "P", pressure, name)


def worst_pure(fuel, name) -> float:
    """Largest relative difference of the law over the range it is fitted for."""
    top = min(400.0, {"propane": 265.0}.get(fuel, 400.0))
    grid = np.linspace(225.0, top, 60)
    exact = np.array([saturation(t, name) for t in grid])
    return float(np.max(np.abs(FUELS[fuel].volatility.pressure(grid) / exact - 1.0)))


def flash(temperature, pressure) -> float:
    """Share by mole of BLEND that is vapour in equilibrium (0 or 1 beyond its ends)."""
    moles = np.array(list(BLEND.values()))
    k = np.array([saturation(temperature, name) for name in BLEND]) / pressure

    def balance(share):
        return float(np.sum(moles * (k - 1.0) / (1.0 + share * (k - 1.0))))

    if balance(0.0) <= 0.0:
        return 0.0
    return 1.0 if balance(1.0) >= 0.0 else brentq(balance, 0.0, 1.0)


def blend_pressure(temperature, share) -> float:
    """Pressure at which ``share`` of BLEND is vapour."""
    return brentq(lambda p: flash(temperature, p) - share, 1.0, 5e5)


@cache
def law_of_blend() -> volatility.Volatility:
    """Gasoline's law with the boiling points that the blend's pressures at 300 K tell."""
    law = volatility.GASOLINE

    def boils(share):
        exact = blend_pressure(COLD[1], share)
        return brentq(
            lambda t: replace(law, boils_from=t, boils_to=t).pressure(COLD[1]) - exact, 280.0, 480.0
        )

    low, high = boils(0.1), boils(0.9)
    slope = (high - low) / 0.8
    return replace(law, boils_from=low - 0.1 * slope, boils_to=high + 0.1 * slope)


def saturated_air(name, temperature, pressure):
    """(K, kg of vapour per kg of dry air) where liquid of 25 degC has saturated air that came at
    ``temperature``; vapour as an ideal gas (its enthalpy at next to no pressure)."""
    from CoolProp.CoolProp import PropsSI

    molar = {n: PropsSI("M", n) for n in (name, "Air")}

    def vapour(t):
        part = saturation(t, name)
        return molar[name] / molar["Air"] * part / (pressure - part)

    def balance(t):
        f = vapour(t)
        air = enthalpy(t, pressure, "Air") - enthalpy(temperature, pressure, "Air")
        return air + f * (enthalpy(t, 20.0, name) - enthalpy(298.15, pressure, name))

    t = brentq(balance, 230.0, temperature)
    return t, vapour(t)


def engine_with(fuel, delivery, **mixture):
    """The demo with its middle runner, dry air and lambda 0.94 on another fuel."""
    engine = aircolumn.load(DEMO).with_runner("middle")
    fuels = type(engine.mixture.fuel)(name=fuel)
    changed = engine.mixture.changed(
        fuel=fuels, delivery=delivery, air_fuel_ratio=None, relative_air_fuel_ratio=0.94, **mixture
    )
    dry = engine.intake.ambient.changed(humidity=0.0)
    return engine.changed(mixture=changed).with_intake(ambient=dry)


def charge_at_closing(fuel, rpm):
    """(K, partial pressure of the fuel's vapour, Pa) as the intake valve shuts."""
    engine = engine_with(fuel, "direct")
    _, run, _ = converged(engine, rpm)
    v = run.volume(run.network.chamber(1))
    mass = run.blocks.volumes[0, v, 2]
    state = {
        n: float(row[v]) for n, row in zip(("volume", "temperature"), run.blocks.states[[0, 4]], strict=True)
    }
    constant = ambient_gas(engine).gas.Rf
    return state["temperature"], mass * constant * state["temperature"] / state["volume"]


def checks():
    """Curves within 3 %; gasoline's law within 30 %; saturated air within 0.5 K; no charge above
    saturation by more than the curve is off."""
    rows = []
    for fuel, name in PURE.items():
        rows.append(
            Check(
                "saturation",
                f"{fuel}, 225 K up: worst deviation",
                0.03,
                worst_pure(fuel, name),
                0,
                COOLPROP,
                "at most",
            )
        )
    for fuel, t in (("methanol", 230.0), ("methanol", 250.0), ("ethanol", 230.0), ("ethanol", 239.4)):
        rows.append(
            Check(
                "saturation",
                f"{fuel} at {t} K: Pa",
                saturation(t, PURE[fuel]),
                FUELS[fuel].volatility.pressure(t),
                0.03,
                COOLPROP,
            )
        )
    law = volatility.GASOLINE
    rows += [
        Check("gasoline", "Reid vapour pressure, Pa", 45e3, law.pressure(310.95), 0, "EN 228", "at least"),
        Check("gasoline", "Reid vapour pressure, Pa", 100e3, law.pressure(310.95), 0, "EN 228", "at most"),
    ]
    for share in (0.1, 0.5, 0.9):
        for t in COLD:
            rows.append(
                Check(
                    "blend of alkanes",
                    f"{100 * share:.0f} % vapour at {t:.0f} K: Pa",
                    blend_pressure(t, share),
                    law_of_blend().pressure(t, share),
                    0.3,
                    "Raoult's law",
                )
            )
    for fuel in ("ethanol", "methanol"):
        engine = engine_with(fuel, "premixed", evaporated=1.0)
        air = engine.intake.source
        state = drawn(engine, ambient_gas(engine))
        t, vapour = saturated_air(PURE[fuel], air.temperature, air.pressure)
        rows += [
            Check("saturated air", f"{fuel}: K", t, state.temperature, 0.7, COOLPROP, "absolute"),
            Check(
                "saturated air",
                f"{fuel}: vapour, kg/kg",
                vapour,
                state.fuel / (1.0 - state.fuel),
                0.04,
                COOLPROP,
            ),
        ]
    for fuel, rpm in (("methanol", 2000.0), ("methanol", 3500.0), ("ethanol", 3500.0)):
        t, part = charge_at_closing(fuel, rpm)
        label = f"{fuel}, {rpm:.0f} rpm, {t:.0f} K: p over saturation"
        rows.append(
            Check("direct injection", label, 1.03, part / saturation(t, PURE[fuel]), 0, COOLPROP, "at most")
        )
    return rows


def draw(axes):
    """Saturation pressures of the fuels."""
    grid = np.linspace(225.0, 400.0, 60)
    for fuel, mark in (("methanol", "o"), ("ethanol", "s")):
        axes.semilogy(grid, [1e-3 * saturation(t, PURE[fuel]) for t in grid], "k-", lw=1)
        axes.semilogy(
            grid[::5], 1e-3 * FUELS[fuel].volatility.pressure(grid[::5]), mark, mfc="none", label=fuel
        )
    for share, style in ((0.0, ":"), (0.5, "--"), (1.0, "-.")):
        axes.semilogy(
            grid,
            1e-3 * volatility.GASOLINE.pressure(grid, share),
            style,
            label=f"gasoline, {100 * share:.0f} % vapour",
        )
    axes.plot([], [], "k-", lw=1, label="CoolProp")
    axes.set(
        xlabel="temperature, K", ylabel="saturation pressure, kPa", title="How much of a fuel can be vapour"
    )
    axes.legend()
