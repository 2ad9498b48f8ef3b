"""Steady flow through a throat far shorter than a cell, and through steps of a duct's shape.

A duct of 42 mm with a throat of 20 mm between two cones of 2 mm (whole angle 160 degrees), cells of
10 mm. Narrowing loses Crane's coefficient, widening Borda-Carnot's (1 - At/A)^2, both of the head
in the throat. At a pressure ratio far above the critical one the throat passes
0.684731 p0t A / sqrt(R T0) (NACA Report 1135) of what narrowing leaves of the stagnation pressure,
p0t = p01 / (1 + K gamma/2 (2/(gamma+1))^(gamma/(gamma-1))).

Crane Technical Paper 410 as in the library fluids (fluids.fittings.contraction_conical_Crane,
diffuser_sharp), which is asked where it is installed.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.flow.duct.division import narrowing_loss
from validation.check import Check
from validation.gas_constants import GAMMA as G
from validation.gas_constants import P0, T0, R

NEEDS = ("fluids",)
BORE, THROAT, CONE = 0.042, 0.020, 0.002
ANGLE = 2.0 * np.degrees(np.arctan(0.5 * (BORE - THROAT) / CONE))
HANDBOOK = "Crane TP-410 and Borda-Carnot, as in fluids"


def with_throat():
    """The duct with its throat in the middle."""
    cones = straight(CONE, BORE, THROAT).then(straight(CONE, THROAT, BORE))
    return straight(0.2, BORE).then(cones).then(straight(0.2, BORE))


def steady(shape, pressure, duration=0.5):
    """Profile of the steady flow from ``pressure`` to P0."""
    net = Network(perfect_gas(G, R))
    net.reservoir("before", pressure, T0)
    net.reservoir("behind", P0, T0)
    net.duct("pipe", shape, 40, GasState(pressure=P0, temperature=T0))
    net.opening("pipe", "left", "before")
    net.opening("pipe", "right", "behind")
    run = net.ready()
    run.march(duration)
    return run.profile("pipe")


def stagnation(profile, k):
    """Stagnation pressure at node ``k``."""
    mach2 = (profile.u[k] / profile.a[k]) ** 2
    return profile.p[k] * (1 + 0.5 * (G - 1) * mach2) ** (G / (G - 1))


def loss(shape, pressure, small):
    """Loss of stagnation pressure over the head in a bore ``small`` (m), at low speed."""
    p = steady(shape, pressure, 2.0)
    flow = p.rho[0] * p.u[0] * p.area[0]
    head = 0.5 * (flow / (0.25 * np.pi * small**2)) ** 2 / p.rho[0]
    return (stagnation(p, 0) - stagnation(p, -1)) / head


def checks():
    """Losses within 1 %, choked flow within 1 %."""
    from fluids.fittings import contraction_conical_Crane, diffuser_sharp

    rows = []

    def add(label, reference, computed, source=HANDBOOK):
        rows.append(Check("throat", label, float(reference), float(computed), 0.01, source))

    for angle in (60.0, 120.0, 180.0):
        add(
            f"coefficient of narrowing at {angle:.0f} deg",
            contraction_conical_Crane(BORE, THROAT, angle=angle),
            narrowing_loss((THROAT / BORE) ** 2, angle),
        )
    narrow = contraction_conical_Crane(BORE, THROAT, angle=ANGLE)
    widen = diffuser_sharp(THROAT, BORE)
    add("throat of 4 mm length: loss", narrow + widen, loss(with_throat(), 1.002 * P0, THROAT))
    step = straight(0.2, 0.03).then(straight(0.2, BORE))
    add("step in the shape, widening", diffuser_sharp(0.03, BORE), loss(step, 1.0005 * P0, 0.03))
    step = straight(0.2, BORE).then(straight(0.2, 0.03))
    add(
        "step in the shape, narrowing",
        contraction_conical_Crane(BORE, 0.03, angle=180.0),
        loss(step, 1.0005 * P0, 0.03),
    )
    p = steady(with_throat(), 3.0 * P0)
    head = 0.5 * G * (2 / (G + 1)) ** (G / (G - 1))
    total = stagnation(p, 0) / (1 + narrow * head)
    choked = 0.6847314563772704 * total * 0.25 * np.pi * THROAT**2 / np.sqrt(R * T0)
    add("choked throat: mass flow", choked, p.rho[0] * p.u[0] * p.area[0], "NACA Report 1135 (closed form)")
    return rows
