"""Fuel evaporates until its vapour is saturated; the rest stays liquid and goes on."""

import numpy as np
import pytest

from aircolumn.engine.model.mixture import ambient_gas, drawn, evaporated
from aircolumn.engine.model.operating_point import converged, operating_point
from aircolumn.flow.arrays.cylinders import Chambers
from aircolumn.flow.gas import volatility
from aircolumn.flow.gas.fuels import FUELS
from aircolumn.flow.network.run import Run

RPM = 3500.0


def engine_on(demo, fuel, delivery, **mixture):
    """The demo at lambda 0.94 on another fuel."""
    engine = demo.with_runner("middle")
    name = type(engine.mixture.fuel)(name=fuel)
    return engine.changed(
        mixture=engine.mixture.changed(
            fuel=name,
            delivery=delivery,
            air_fuel_ratio=None,
            relative_air_fuel_ratio=0.94,
            **mixture,
        )
    )


def vapour_pressure(engine, run: Run):
    """(partial pressure of the fuel's vapour, K) in cylinder 1 at the end of a run."""
    v = run.volume(run.network.chamber(1))
    volume, _, _, _, t = run.blocks.states[:5, v]
    return run.blocks.volumes[0, v, 2] * ambient_gas(engine).gas.Rf * t / volume, t


@pytest.mark.parametrize(("fuel", "most"), [("methanol", 1.35), ("ethanol", 1.32)])
def test_direct_alcohol_is_no_miracle(demo, fuel, most):
    """VE stays within what saturation allows: without that methanol reached 1.70."""
    engine = engine_on(demo, fuel, "direct")
    engine, run, point = converged(engine, RPM)
    pressure, t = vapour_pressure(engine, run)
    assert pressure <= 1.01 * FUELS[fuel].volatility.pressure(t)
    assert t > 285.0
    assert point.figures["ve"] < most
    assert point.figures["mass_error"] < 1e-11
    assert point.figures["energy_error"] < 1e-11


@pytest.mark.parametrize(("fuel", "coldest"), [("ethanol", 272.0), ("methanol", 264.0)])
def test_air_holds_so_much_vapour(demo, fuel, coldest):
    """Premixed ethanol was drawn in at 239 K, methanol at 197 K."""
    engine = engine_on(demo, fuel, "premixed")
    gas = ambient_gas(engine)
    state = drawn(engine, gas)
    share = evaporated(engine, gas)
    assert coldest < state.temperature < 290.0
    assert 0.1 < share < 0.6
    moles = state.fuel * gas.gas.Rf / (state.fuel * gas.gas.Rf + (1 - state.fuel) * gas.gas.Ra)
    law = FUELS[fuel].volatility.pressure(state.temperature)
    assert moles * state.pressure == pytest.approx(law, rel=1e-6)


def test_gasoline_and_gas_evaporate_as_stated(demo):
    """What air can hold is not touched."""
    for fuel, share in (("gasoline", 0.6), ("propane", 1.0), ("methane", 1.0)):
        engine = engine_on(demo, fuel, "premixed")
        assert evaporated(engine, ambient_gas(engine)) == pytest.approx(share, rel=1e-12)


def test_what_is_metered_evaporates_within_the_cycle(demo):
    """Fuel that waits as liquid at valve closing is vapour before it burns: nothing is lost, and
    none is carried on for ever."""
    engine = engine_on(demo, "methanol", "direct")
    engine = engine.changed(rings=engine.rings.changed(crevice_volume=0.0))  # which keep some unburned
    engine, run, _ = converged(engine, RPM)
    chambers = Chambers(*run.blocks.chambers)
    assert chambers.liquid[0] > 0.02 * chambers.charge_fuel[0]
    before = chambers.metered[0], chambers.injected[0], chambers.liquid[0], chambers.burned_fuel[0]
    run.march(120.0 / RPM, omega=RPM * np.pi / 30.0)
    after = chambers.metered[0], chambers.injected[0], chambers.liquid[0], chambers.burned_fuel[0]
    metered, vapour, liquid, burned = np.subtract(after, before)
    assert metered == pytest.approx(vapour + liquid, rel=1e-12)
    assert vapour == pytest.approx(metered, rel=2e-3)
    assert burned == pytest.approx(metered, rel=2e-3)


def test_saturation_rises_with_temperature_and_falls_along_the_blend():
    t = np.linspace(200.0, 500.0, 61)
    for fuel in FUELS.values():
        assert np.all(np.diff(fuel.volatility.pressure(t)) > 0.0)
        shares = np.linspace(0.0, 1.0, 11)
        assert np.all(np.diff(fuel.volatility.pressure(300.0, shares)) <= 0.0)
        assert fuel.volatility.pressure(fuel.volatility.boils_from) == pytest.approx(101325.0)
    assert volatility.GASEOUS.pressure(250.0) > 1e8


def test_cold_weather_leaves_gasoline_liquid(demo):
    """At 15 degrees of frost less than half of a carburettor's fuel becomes vapour."""
    engine = engine_on(demo, "gasoline", "premixed", evaporated=1.0)
    cold = engine.with_intake(ambient=engine.intake.ambient.changed(temperature=258.15))
    warm, frost = (evaporated(e, ambient_gas(e)) for e in (engine, cold))
    assert warm > 0.75
    assert frost < 0.6
    assert operating_point(cold, RPM).figures["ve"] > 0.5
