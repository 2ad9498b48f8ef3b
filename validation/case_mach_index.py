"""VE against inlet Mach index Z = (B/D)^2 Sp / (n Ci a): flat to about 0.5, falling beyond 0.6.

The fall from 0.5: encyclopedia of the Japan Society of Mechanical Engineers, 11:1002813, with
this definition of Z. Livengood & Stanitz, NACA TN 918 (1943) and Taylor, vol. 1 (shape, both from
memory). B bore, D valve diameter, n valves, Sp mean piston speed, a sound speed, Ci: mean effective
area while open over pi D^2 / 4. The engine has no pipes to tune it: short stubs on both sides. Its
fuel is vapour in the air, as from the heated mixing tank of such rigs (from memory): a liquid that
evaporates in the cylinder takes from VE at low speed, and the curve is no longer one of flow alone.
"""

import numpy as np

from aircolumn.curves.tuning.filling_account import no_exhaust_waves, no_intake_waves
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.valves import forward_area
from validation.check import Check
from validation.engine_sweeps import classroom, figures

SOUND = 343.2
DIAMETERS = (0.020, 0.024, 0.028, 0.033)
RPM = np.arange(1000.0, 9001.0, 500.0)
SOURCE = "Livengood & Stanitz 1943 (shape, from memory)"


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


def checks():
    """VE relative to its best, at several Z; and what a larger valve gives below and above."""
    engines = [engine_with(d) for d in DIAMETERS]
    ve = figures(engines, RPM)
    z = np.array([mach_index(e) for e in engines])
    rows = []
    for d, zs, row in zip(DIAMETERS, z, ve, strict=True):
        share = np.interp([0.3, 0.5, 0.8], zs, row / row.max())
        name = f"{1e3 * d:.0f} mm valves: VE over its best at Z"
        rows.append(Check("Mach index", f"{name} 0.3", 0.97, share[0], 0, SOURCE, "at least"))
        rows.append(Check("Mach index", f"{name} 0.5", 0.98, share[1], 0, SOURCE, "at least"))
        rows.append(Check("Mach index", f"{name} 0.8", 0.96, share[2], 0, SOURCE, "at most"))
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
            SOURCE,
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
            SOURCE,
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
