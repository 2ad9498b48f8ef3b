"""VE against inlet Mach index Z = (B/D)^2 Sp / (n Ci a): flat to about 0.5, then falling.

The shape by filling through the valve alone: from top dead centre to valve closing, air at rest outside,
residual gas of 1000 K at its pressure inside, adiabatic,

    dm/dt = A(t) m'(p0, T0, p),   dp/dt = (g R T m'A - g p dV/dt)/V     (Heywood 1988, section 14.2)

with the isentropic flow m' of appendix C, either way, integrated by scipy. The fall from 0.5: encyclopedia
of the Japan Society of Mechanical Engineers, 11:1002813, with this definition of Z; Livengood & Stanitz,
NACA TN 918 (1943) and Taylor, vol. 1 (both from memory). B bore, D valve diameter, n valves, Sp mean piston
speed, a sound speed, Ci: mean effective area while open over pi D^2 / 4. The engine has no pipes to tune
it: short stubs on both sides. Its fuel is vapour in the air, as from the heated mixing tank of such rigs
(from memory): a liquid that evaporates in the cylinder takes from VE at low speed, and the curve is no
longer one of flow alone.
"""

import numpy as np
from scipy.integrate import solve_ivp

from aircolumn.curves.tuning.filling_account import no_exhaust_waves, no_intake_waves
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.valves import TABLE_ANGLES, TABLE_LEAD, forward_area
from validation.check import Check
from validation.engine_sweeps import classroom, figures
from validation.gas_constants import GAMMA, R

SOUND = 343.2
DIAMETERS = (0.020, 0.024, 0.028, 0.033)
RPM = np.arange(1000.0, 9001.0, 500.0)
INDICES = (0.5, 0.6, 0.8, 1.0, 1.2)
RESIDUAL = 1000.0  # K
SOURCE = "filling through the valve alone (scipy)"
TRADE = "Livengood & Stanitz 1943 (shape, from memory)"


def engine_with(diameter):
    """The engine without pipes, intake valves of ``diameter``."""
    base = classroom()
    bare = base.with_intake(valve=base.intake.valve.changed(diameter=diameter))
    vapour = base.mixture.changed(delivery="premixed", evaporated=1.0)
    return no_exhaust_waves(no_intake_waves(bare.changed(mixture=vapour)))


def mach_index(engine):
    """Z at every speed."""
    g, v, e = geometry_of(engine), engine.intake.valve, engine.block
    area = forward_area(v, g.intake_opens, g.intake_closes)
    coefficient = area[area > 0].mean() / (0.25 * v.count * np.pi * v.diameter**2)
    speed = 2.0 * e.stroke * RPM / 60.0
    return (e.bore / v.diameter) ** 2 / v.count * speed / (coefficient * SOUND)


def through_the_valve(engine, rpm):
    """VE by filling through the valve alone."""
    g, v, e = geometry_of(engine), engine.intake.valve, engine.block
    p0, t0 = engine.intake.ambient.pressure, engine.intake.ambient.temperature
    areas = forward_area(v, g.intake_opens, g.intake_closes)
    throw, piston = 0.5 * e.stroke, 0.25 * np.pi * e.bore**2

    def volume(angle):
        x = np.radians(angle)
        height = throw * np.cos(x) + np.sqrt(e.rod**2 - (throw * np.sin(x)) ** 2)
        return g.clearance + piston * (throw + e.rod - height)

    def flux(p, t, behind):
        ratio = max(behind / p, (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0)))
        part = ratio ** (2.0 / GAMMA) - ratio ** ((GAMMA + 1.0) / GAMMA)
        return p * np.sqrt(2.0 * GAMMA / ((GAMMA - 1.0) * R * t) * part)

    def rates(angle, state):
        (m, p), v_now = state, volume(angle)
        t = p * v_now / (m * R)
        area = np.interp(angle - g.intake_opens + TABLE_LEAD, TABLE_ANGLES, areas)
        inward = p0 >= p
        flow = area * (flux(p0, t0, p) if inward else -flux(p, t, p0)) / (6.0 * rpm)
        growth = (volume(angle + 0.01) - volume(angle - 0.01)) / 0.02
        return flow, (GAMMA * R * (t0 if inward else t) * flow - GAMMA * p * growth) / v_now

    m0 = p0 * g.clearance / (R * RESIDUAL)
    found = solve_ivp(rates, (360.0, g.intake_closes), (m0, p0), max_step=1.0, rtol=1e-8)
    return (found.y[0, -1] - m0) * R * t0 / (p0 * g.swept)


def checks():
    """VE relative to its best, at several Z; and what a larger valve gives below and above."""
    engines = [engine_with(d) for d in DIAMETERS]
    ve = figures(engines, RPM)
    z = np.array([mach_index(e) for e in engines])
    rows = []
    for d, engine, zs, row in zip(DIAMETERS, engines, z, ve, strict=True):
        alone = np.array([through_the_valve(engine, rpm) for rpm in RPM])
        for index in (k for k in INDICES if k < zs.max()):
            share, due = (float(np.interp(index, zs, y / y.max())) for y in (row, alone))
            label = f"{1e3 * d:.0f} mm valves: VE over its best at Z {index:g}"
            rows.append(Check("Mach index", label, due, share, 0.03, SOURCE, "absolute"))
    small, large = ve[1], ve[3]
    gain = large / small - 1.0
    below, above = z[1] < 0.5, z[1] > 0.8
    rows.append(
        Check(
            "Mach index",
            "larger valve, Z < 0.5: most gained",
            0.02,
            float(gain[below].max()),
            0,
            TRADE,
            "at most",
        )
    )
    rows.append(
        Check(
            "Mach index",
            "larger valve, Z > 0.8: least gained",
            0.05,
            float(gain[above].min()),
            0,
            TRADE,
            "at least",
        )
    )
    return rows


def draw(axes):
    """VE against Z for all valves."""
    engines = [engine_with(d) for d in DIAMETERS]
    for d, e, row, mark in zip(DIAMETERS, engines, figures(engines, RPM), "osv^", strict=True):
        axes.plot(mach_index(e), row, mark + "-", ms=4, mfc="none", label=f"{1e3 * d:.0f} mm")
    axes.axvspan(0.5, 0.6, color="#eeeeee")
    axes.set(
        xlabel="inlet Mach index Z", ylabel="VE, ambient reference", title="VE against Mach index, no pipes"
    )
    axes.legend(title="intake valves")
