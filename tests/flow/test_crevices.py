"""Crevices: what they take in and give back, and what that costs."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from validation.engine_parts import cylinder
from validation.gas_constants import GAMMA, R

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.flow.cylinder.crank import volume_and_slope

P0, T0, WALL, OMEGA, RATIO = 1e5, 330.0, 450.0, 300.0, 10.0
CV, CP = R / (GAMMA - 1.0), GAMMA * R / (GAMMA - 1.0)


def motored(crevices):
    """(cylinder pressures by crank angle, run) of a turn from bottom to bottom, nothing burning."""
    net = Network(perfect_gas(GAMMA, R))
    parts = replace(cylinder(RATIO, "bottom"), crevice_volume=crevices, crevice_wall=WALL)
    net.cylinder("cylinder", parts, P0, T0)
    net.duct("clock", straight(0.1, 0.02), 8, GasState(pressure=P0, temperature=300.0))
    net.closed("clock", "left")
    net.closed("clock", "right")
    run = net.ready(angle=540.0)
    found = []
    for _ in range(72):
        run.march(np.radians(5.0) / OMEGA, omega=OMEGA, courant=0.3)
        found.append(float(run.states.p[0]))
    return np.array(found), run, parts


def by_scipy(parts, crevices):
    """The same: m_c = p V_c/(R T_c); dm = -dm_c; dU = -p dV - h dm_c, h of the cylinder's gas on the way in
    and of the wall's temperature on the way out (Gatowski et al.); perfect gas."""

    def geometry(angle):
        return volume_and_slope(
            parts.throw, parts.rod, 0.0, parts.area, parts.clearance, parts.top, np.degrees(angle)
        )

    def rates(angle, state):
        (p,) = state[:1]
        m = state[1]
        v, slope = geometry(angle)
        t = p * v / (m * R)
        store = crevices / (R * WALL)
        # p V/(g-1) = U: V dp/(g-1) + p dV/(g-1) = -p dV - h store dp, solved for dp
        for enthalpy, rising in ((CP * t, True), (CP * WALL, False)):
            dp = -(GAMMA / (GAMMA - 1.0)) * p * slope / (v / (GAMMA - 1.0) + enthalpy * store)
            if (dp > 0.0) == rising:
                break
        return dp, -store * dp

    start = 540.0
    m0 = P0 * parts.start_volume / (R * T0)
    held = P0 * crevices / (R * WALL)  # taken out of the charge as the march begins
    u = m0 * CV * T0 - held * CP * T0
    v0 = parts.start_volume
    p0 = u * (GAMMA - 1.0) / v0
    span = np.radians([start, start + 360.0])
    at = np.radians(start + 5.0 * np.arange(1, 73))
    found = solve_ivp(rates, span, (p0, m0 - held), t_eval=at, rtol=1e-10, atol=1e-12, max_step=0.01)
    return found.y[0]


@pytest.mark.parametrize("crevices", [0.0, 0.6e-6, 3e-6])
def test_motored_pressure_against_scipy(crevices):
    pressure, run, parts = motored(crevices)
    due = by_scipy(parts, crevices)
    assert pressure == pytest.approx(due, rel=4e-3)
    # Nothing is lost, and the loop that the pressure runs through is the heat to the walls.
    held = run.chambers.crevice_mass[0] + run.blocks.volumes[0, 0, 0]
    assert held == pytest.approx(P0 * parts.start_volume / (R * T0), rel=1e-12)
    if crevices:
        assert run.chambers.work[0] < 0.0
        assert run.chambers.crevice_mass[0] == pytest.approx(pressure[-1] * crevices / (R * WALL), rel=2e-3)


def test_what_an_engine_loses(demo):
    """Heywood, section 11.4.3, from memory: 5 to 10 % of the charge at peak pressure, 1 to 2 % of the fuel
    left unburned."""
    none = demo.engine.changed(rings=demo.engine.rings.changed(crevice_volume=0.0))
    without, with_them = (operating_point(e, 3500.0).figures for e in (none, demo.engine))
    assert 0.94 < with_them["torque"] / without["torque"] < 0.98
    assert with_them["ve"] == pytest.approx(without["ve"], rel=2e-3)
    assert 1.02 < with_them["wall_heat"] / without["wall_heat"] < 1.2
    assert abs(with_them["mass_error"]) < 1e-11
    assert abs(with_them["energy_error"]) < 1e-9
