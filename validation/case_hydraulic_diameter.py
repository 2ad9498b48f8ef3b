"""Ducts that are not round: friction and heat by the hydraulic diameter; losses of bends.

With D_h = 4 area / perimeter (2 a b / (a + b) for a rectangle) friction and heat of turbulent flow follow the
laws of round pipes (any hydraulics handbook; White, Fluid Mechanics, sect. 6.8: within 10 to 15 %). Here a
duct of 60 x 20 mm is marched to its steady state: Mach numbers along it must follow Fanno's law for
4 f L / D_h, and the stagnation temperature gain the integral of 4 St / D_h (T_wall - T), with f from the
library fluids (Haaland) and St = f/8 Pr^(-2/3) of Darcy's f (Colburn). In laminar flow the rule is off by
-6 % for sides of 3 to 1 (f Re 68.4 in place of 64: Shah & London 1978, from memory); gas in an engine's ducts
is laminar only where it reverses.

Bends: Weisbach's tables for round and rectangular ducts, as in hydraulics handbooks (those of b/2R 0.5 and 1
of round ones were seen in two texts, the others are from memory); and with wall friction within the spread of
the fits of the library fluids (Crane, Miller, Rennels at R/D 1 to 5).
"""

import fluids
import numpy as np

from aircolumn import Wall
from aircolumn.flow.duct.bends import bend_loss
from aircolumn.flow.duct.geometry import straight
from aircolumn.flow.gas.kernels import viscosity
from aircolumn.space.cross_section import CrossSection
from validation.case_steady_flow import along_fanno, stagnation_ratio, steady
from validation.check import Check
from validation.gas_constants import P0

HANDBOOK = "hydraulic diameter, any hydraulics handbook; f of the library fluids"
TABLE = "Weisbach's table in hydraulics handbooks (from memory but for 0.5 and 1, round)"
LENGTH, ROUGH, HOT = 1.0, 5e-5, 420.0
DUCT = CrossSection(0.060, 0.020, 0.0)
HYDRAULIC = 2.0 * 0.060 * 0.020 / (0.060 + 0.020)
#: half the width over the radius: loss of 90 degrees, round and rectangular
BENDS = {
    0.1: (0.131, 0.124),
    0.2: (0.138, 0.135),
    0.4: (0.206, 0.250),
    0.5: (0.294, 0.398),
    1.0: (1.978, 3.228),
}
FITS = ("Rennels", "Crane", "Miller")


def darcy(profile):
    """Darcy's friction factor along a profile."""
    reynolds = np.abs(profile.rho * profile.u) * HYDRAULIC / np.array([viscosity(t) for t in profile.T])
    return np.array([fluids.friction_factor(Re=r, eD=ROUGH / HYDRAULIC, Method="Haaland") for r in reynolds])


def rectangular(**wall):
    """Steady flow in the rectangular duct: (profile, Mach number)."""
    roundness = np.pi * DUCT.bore / DUCT.perimeter
    shape = straight(LENGTH, float(DUCT.bore))
    return steady(shape, 120, 0.85 * P0, 0.25, Wall(roughness=ROUGH, roundness=roundness, **wall))


def friction_checks():
    """Fanno's law with the hydraulic diameter."""
    prof, mach = rectangular(friction=1.0)
    rate = darcy(prof) / HYDRAULIC
    stretches = ((10, 60), (60, 115), (10, 115))
    return along_fanno("hydraulic diameter", "rectangle, ", prof.x, mach, rate, stretches, HANDBOOK)


def heat_checks():
    """What the wall gives."""
    prof, mach = rectangular(friction=1.0, heat=1.0, temperature=HOT)
    total = prof.T * stagnation_ratio(mach)
    stanton = darcy(prof) / 8.0 * 0.71 ** (-2.0 / 3.0)
    rows = []
    for start, stop in ((6, 60), (6, 114)):
        part = slice(start, stop + 1)
        due = np.trapezoid(4.0 * stanton[part] / HYDRAULIC * (HOT - prof.T[part]), prof.x[part])
        label = f"rectangle, gain of T0 over {prof.x[stop] - prof.x[start]:.2f} m, K"
        found = total[stop] - total[start]
        rows.append(Check("hydraulic diameter", label, due, found, 0.005, HANDBOOK))
    return rows


def bend_checks():
    """The formulas against their tables, and against newer fits."""
    rows = []
    for ratio, (of_round, of_rectangle) in BENDS.items():
        for kind, due, roundness in (("round", of_round, 1.0), ("rectangular", of_rectangle, 0.0)):
            found = bend_loss(90.0, 0.5 / ratio, 1.0, roundness)
            rows.append(Check("bends", f"{kind}, b/2R {ratio}", due, found, 0.01, TABLE))
    for ratio in (1.0, 2.0, 5.0):
        fits = [
            fluids.bend_rounded(Di=0.045, angle=90, bend_diameters=ratio, Re=1e5, fd=0.019, method=method)
            for method in FITS
        ]
        found = bend_loss(90.0, ratio * 0.045, 0.045) + 0.019 * 0.5 * np.pi * ratio
        label = f"round, R/D {ratio:g} with friction, over the least of three fits"
        rows.append(Check("bends", label, 0.8, found / min(fits), 0, "fluids, bend_rounded", "at least"))
        label = f"round, R/D {ratio:g} with friction, over the greatest of three fits"
        rows.append(Check("bends", label, 1.2, found / max(fits), 0, "fluids, bend_rounded", "at most"))
    return rows


def checks():
    """Friction, heat, bends."""
    return friction_checks() + heat_checks() + bend_checks()
