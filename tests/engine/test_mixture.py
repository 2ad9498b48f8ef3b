"""How fuel arrives: what comes in, what it takes from the charge, when, how much."""

import numpy as np
import pytest
from tests.conftest import CLASSROOM

from aircolumn.engine.description.mixture import FuelName
from aircolumn.engine.description.reader import load
from aircolumn.engine.model.mixture import ambient_gas, cooling, drawn, enthalpy
from aircolumn.engine.model.operating_point import converged, operating_point
from aircolumn.flow.arrays.blocks import ANGLE
from aircolumn.flow.gas.fuels import FUELS
from aircolumn.flow.gas.mixture import moist_air, stoichiometric_ratio

RPM = 3000.0


@pytest.fixture(scope="module")
def single():
    """The classroom engine as fuelled otherwise."""
    classroom = load(CLASSROOM).engine

    def fuelled(**changes):
        return classroom.changed(mixture=classroom.mixture.changed(**changes))

    return fuelled


def test_a_gauge_reads_lambda_of_the_fuel_burned(single):
    """13.8 : 1 of gasoline is lambda 13.8 over its stoichiometric ratio in this air."""
    engine = single(relative_air_fuel_ratio=None, air_fuel_ratio=13.8)
    gas = ambient_gas(engine)
    assert gas.air_fuel_ratio == pytest.approx(13.8)
    dry = stoichiometric_ratio(moist_air(0.0), FUELS["gasoline"])
    assert gas.stoichiometric == pytest.approx(dry, rel=0.03)
    assert gas.stoichiometric < dry + 1e-9 or engine.intake.ambient.humidity > 0.0


def test_vapour_cools_the_air_it_evaporates_in(single):
    """By hand: f L = cp dT of air and vapour, less the vapour's own warming from 25 degC."""
    engine = single(delivery="premixed", evaporated=0.7)
    gas = ambient_gas(engine)
    came = drawn(engine, gas)
    f = 0.7 / gas.air_fuel_ratio
    assert came.fuel == pytest.approx(f / (1.0 + f))
    air = engine.intake.ambient
    cp_air, cp_vapour = 1006.0, 1650.0
    drop = f * (350e3 + cp_vapour * (air.temperature - 298.15)) / (cp_air + f * cp_vapour)
    assert air.temperature - came.temperature == pytest.approx(drop, rel=0.03)
    plain = single(delivery="port")
    assert drawn(plain, gas).fuel == 0.0
    assert drawn(plain, gas).temperature == air.temperature


def test_a_gas_does_not_cool(single):
    """It mixes with air of 20 degC and is 25 degC warm itself: f cp_gas 5 K / cp = 0.5 K."""
    engine = single(delivery="premixed", fuel=FuelName(name="propane"))
    came = drawn(engine, ambient_gas(engine))
    assert engine.intake.ambient.temperature == pytest.approx(293.15)
    share = came.fuel
    assert share > 0.05
    by_hand = share * 1670.0 * 5.0 / ((1.0 - share) * 1006.0 + share * 1670.0)
    assert came.temperature - 293.15 == pytest.approx(by_hand, rel=0.02)


def test_what_the_charge_supplies(single):
    """s L, less what vapour off the warm port brings along."""
    port = single(delivery="port", charge_cooling=0.25)
    gas = ambient_gas(port)
    wall = port.intake.port.wall_temperature
    warm = enthalpy(gas.gas, 1.0, wall) - enthalpy(gas.gas, 1.0, 298.15)
    assert 1.4e3 < warm / (wall - 298.15) < 2.1e3  # cp of gasoline vapour, J/(kg K)
    assert cooling(port, gas) == pytest.approx(0.25 * 350e3 - 0.75 * warm)
    direct = single(delivery="direct", charge_cooling=0.25)
    assert cooling(direct, gas) == pytest.approx(0.25 * 350e3)


def fuel_in_cylinder(engine, angles):
    """(fuel in the cylinder at crank angles of one more cycle, kg; the run)."""
    _, run, _ = converged(engine, RPM)
    omega, b = RPM * np.pi / 30.0, run.volume("cylinder 1")
    seen, now = [], run.blocks.clock[ANGLE] % 720.0
    for angle in angles:
        run.march(np.radians((angle - now) % 720.0) / omega, omega=omega)
        now = angle
        seen.append(float(run.blocks.volumes[0, b, 2]))
    return np.array(seen), run


def test_direct_injection_from_its_start_at_a_steady_rate(single):
    """Of the dose, a quarter is in after a quarter of the duration; none before the start."""
    engine = single(delivery="direct", injection_start=280.0, injection_duration=80.0)
    start = 720.0 - 280.0
    angles = start + np.array([-2.0, 0.0, 20.0, 40.0, 60.0, 80.0, 100.0])
    fuel, run = fuel_in_cylinder(engine, angles)
    dose = run.chambers.dose[0]
    into = np.diff(fuel)
    assert abs(into[0]) < 1e-3 * dose
    assert into[1:5] == pytest.approx(np.full(4, 0.25 * dose), rel=2e-3)
    assert abs(into[5]) < 1e-3 * dose


def test_late_direct_injection_adds_the_rest_as_the_valve_shuts(single):
    """What is due after intake-valve closing is added there; the mixture is right all the same."""
    for start in (300.0, 160.0, 30.0):
        engine = single(delivery="direct", injection_start=start)
        _, run, point = converged(engine, RPM)
        asked = ambient_gas(engine).air_fuel_ratio
        got = run.chambers.trapped_air[0] / run.chambers.charge_fuel[0]
        assert got == pytest.approx(asked, rel=2e-3), start
        assert abs(point.figures["mass_error"]) < 1e-9
        assert abs(point.figures["energy_error"]) < 1e-9


@pytest.mark.parametrize(
    "changes",
    [
        {"delivery": "premixed"},
        {"delivery": "premixed", "evaporated": 0.0},
        {"delivery": "port"},
        {"delivery": "direct"},
        {"delivery": "port", "fuel": FuelName(name="methanol")},
        {"delivery": "premixed", "fuel": FuelName(name="methane")},
    ],
)
def test_fuel_flow_and_ledgers(single, changes):
    """Fuel over air delivered is what was asked; nothing is lost on the way."""
    engine = single(**changes)
    f = operating_point(engine, RPM).figures
    tolerance = 0.01 if changes["delivery"] == "direct" else 2e-3  # metered on what is trapped
    asked = ambient_gas(engine).air_fuel_ratio
    assert f["air_flow"] / f["fuel_flow"] == pytest.approx(asked, rel=tolerance)
    assert abs(f["mass_error"]) < 1e-9
    assert abs(f["energy_error"]) < 1e-9


def test_earlier_injection_cools_the_charge_that_the_valve_still_fills(single):
    """Injected in the intake stroke the charge makes room; after closing it cannot."""
    early = operating_point(single(delivery="direct", injection_start=300.0), RPM).figures
    late = operating_point(single(delivery="direct", injection_start=120.0), RPM).figures
    assert early["ve"] > late["ve"] + 0.02


def test_best_torque_is_a_little_rich(single):
    """Between lambda 0.88 and 0.96 (real and equilibrium cycles: Heywood 1988, section 5.5); least
    fuel for the work is lean of that."""
    lam = np.array([0.82, 0.88, 0.92, 0.96, 1.0, 1.06])
    points = [operating_point(single(relative_air_fuel_ratio=x), RPM).figures for x in lam]
    torque, bsfc = (np.array([p[n] for p in points]) for n in ("torque", "bsfc"))
    fine = np.linspace(lam[0], lam[-1], 200)
    best = fine[np.polyval(np.polyfit(lam, torque, 4), fine).argmax()]
    assert 0.88 <= best <= 0.96
    assert np.all(np.diff(bsfc[:5]) < 0.0)
