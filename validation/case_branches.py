"""Ducts that branch: losses of tees and merges, and sound in a log with side branches.

Losses of steady flow at low Mach number, p0 of the leg that carries all less p0 of the other, over
the dynamic head of the first; q: share that goes through the branch, psi: bore of the main over
that of the branch, squared (Hager 1984 and Bassett, Winterbone & Pearson 2001, as quoted in
ends/junction.py, from memory):

    dividing    branch 1 - 2 q psi cos(3/4 delta) + (q psi)^2,
                straight (1 - q)^2 - 1.5 (1 - q) + 0.5
    combining   branch 1 - 2 (1 - q)^2 - 2 q^2 psi cos(3/4 delta) + (q psi)^2,
                straight q (2 - q) - 2 q^2 psi cos(3/4 delta)

What the model is worth is told by measured tees of equal bore at 90 degrees, as Gardel fitted them
(Bulletin technique de la Suisse romande 83, 1957, from memory; sharp edges), and by a small branch
out of a large main, for which Taliev's 1 + 0.3 (u_b/u_c)^2 to 0.5 (as in Idelchik, Handbook of
Hydraulic Resistance, from memory) is known.

A second table of sharp-edged tees of equal bores, at 90 and 45 degrees, stands in a formula sheet
for students (Institut fuer Stroemungsmechanik und Umweltphysik im Bauwesen, p. 167; read from run-
together text, its own source not stated). Flow that divides agrees with it within 0.1 heads. Flow
that merges loses 0.1 to 0.35 heads less in it than momentum says, in the model as in the formulas
above: the pressure of a stream that is turned by another is not that of the plane in which they
meet. The difference is about sin(delta) q (1 - q) heads; it is not taken off, as it is known at two
angles of equal bores only, and nothing of it would be left at the angles of collectors.

Sound: a log with four shut side branches; pressure at the end of each over that of the wave that
comes in, against transfer matrices (Munjal, Acoustics of Ducts and Mufflers): the admittances of
shut ducts, i tan(k L) A / (rho a), add up where ducts meet.
"""

from functools import cache

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.case_acoustics import STRENGTH, WIDTH, add_source_duct
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

BASSETT = "Hager 1984; Bassett, Winterbone & Pearson 2001"
GARDEL = "Gardel 1957 (from memory)"
SHEET = "formula sheet, p. 167 (see file)"
TALIEV = "Taliev, in Idelchik (from memory)"
MUNJAL = "Munjal (closed form)"
BORE = 0.04
MAIN, STRAIGHT, BRANCH = "main", "straight", "branch"
DRIVE = 600.0  # Pa
#: pressures at the far ends of the legs over the air's, times DRIVE: from hardly anything through
#: the branch to nearly all
DIVIDING = [(1.0, -0.8, -0.85), (1.0, -0.6, -0.7), (1.0, -0.35, -0.9)]
COMBINING = [(-1.0, 0.6, 0.35), (-1.0, 0.3, 0.6), (-1.0, 0.1, 1.0)]


SHARES = (0.2, 0.4, 0.6, 0.8)
#: (dividing, delta): K of the straight leg and of the branch at SHARES
TABLE = {
    (True, 90.0): ((-0.08, -0.05, 0.07, 0.21), (0.88, 0.89, 0.95, 1.10)),
    (True, 45.0): ((-0.06, -0.04, 0.07, 0.20), (0.68, 0.50, 0.38, 0.35)),
    (False, 90.0): ((0.17, 0.30, 0.41, 0.51), (-0.40, 0.08, 0.47, 0.72)),
    (False, 45.0): ((0.17, 0.19, 0.09, -0.17), (-0.38, 0.00, 0.22, 0.37)),
}


@cache
def steady_tee(drive, delta=90.0, branch=BORE, mouth=None):
    """{leg: (speed towards the junction m/s, total pressure Pa)} once the flow is steady; delta:
    by how much the way from main to branch turns, degrees."""
    net = Network(perfect_gas(GAMMA, R))
    for name, bore, p in zip((MAIN, STRAIGHT, BRANCH), (BORE, BORE, branch), drive, strict=True):
        net.duct(name, straight(0.15, bore), 12, GasState(pressure=P0, temperature=T0))
        net.reservoir(f"{name} end", P0 + DRIVE * p, T0)
        net.opening(name, "right", f"{name} end", loss=1.0)
    legs = ((name, "left") for name in (MAIN, STRAIGHT, BRANCH))
    net.junction(*legs, angles=[180.0, 0.0, delta], mouths=[None, None, mouth])
    run = net.ready()
    run.march(0.2)
    found = {}
    for name in net.ducts:
        profile = run.profile(name)
        u, p, rho = profile.u[6], profile.p[6], profile.rho[6]
        found[name] = -u, p + 0.5 * rho * u * u
    return found


def losses(drive, delta=90.0, branch=BORE, mouth=None):
    """(q, K of the straight leg, K of the branch) of a computed tee."""
    legs = steady_tee(drive, delta, branch, mouth)
    speed, total = legs[MAIN]
    head = 0.5 * P0 / (R * T0) * speed**2
    sign = np.sign(speed)
    q = -legs[BRANCH][0] * (branch / BORE) ** 2 / speed
    return q, *(sign * (total - legs[name][1]) / head for name in (STRAIGHT, BRANCH))


def momentum_losses(dividing, q, delta, psi):
    """K of the straight leg and of the branch, by the formulas above."""
    turned = np.cos(np.radians(0.75 * delta))
    if dividing:
        through = 1.0 - q
        return through**2 - 1.5 * through + 0.5, 1.0 - 2.0 * q * psi * turned + (q * psi) ** 2
    taken = 2.0 * q * q * psi * turned
    return q * (2.0 - q) - taken, 1.0 - 2.0 * (1.0 - q) ** 2 - taken + (q * psi) ** 2


def measured_losses(dividing, q):
    """The same of a sharp-edged tee of equal bores at 90 degrees, as Gardel fitted it."""
    s = 1.0 - q
    if dividing:
        return 0.03 * s * s + 0.35 * q * q - 0.2 * q * s, 0.95 * s * s + 1.3 * q * q + 0.8 * q * s
    return 0.03 * s * s + 0.62 * q * q + q * s, -0.92 * s * s + 1.2 * q * q + q * s


# The log, its branches, and where they stand.
LOG, SIDE, PLACES, LENGTHS = 0.06, 0.042, (0.06, 0.16, 0.26, 0.36), (0.40, 0.43, 0.43, 0.46)
TOTAL = 0.42  # m, of the log
# 1/s: both sides are taken at frequencies with this decay (Laplace transform), so that what still
# rings at the end of the march does not count.
DECAY = 30.0


@cache
def log_response():
    """Frequencies, Hz, and pressure at the end of each branch over that of the incoming wave,
    computed and exact (complex, branches x frequencies)."""
    net = Network(perfect_gas(GAMMA, R))
    add_source_duct(net, "in", LOG, length=1.0, centre=0.7)
    before, edges = "in", np.diff([0.0, *PLACES, TOTAL])
    still = GasState(pressure=P0, temperature=T0)
    for k, length in enumerate(edges):
        name = f"log {k}"
        net.duct(name, straight(length, LOG), round(200 * length), still)
        if k == 0:
            net.join((before, "right"), (name, "left"))
        else:
            side = f"branch {k}"
            net.duct(side, straight(LENGTHS[k - 1], SIDE), round(200 * LENGTHS[k - 1]), still)
            net.closed(side, "right")
            net.junction(
                (before, "right"),
                (name, "left"),
                (side, "left"),
                angles=[180.0, 0.0, 90.0],
                mouths=[None, None, 0.5],
            )
        before = name
    net.closed(before, "right")
    probes = {f"branch {k}": (f"branch {k}", "right") for k in range(1, 5)}
    record = net.ready().march(0.25, probes=probes)
    step = 1e-5
    time = np.arange(0.0, 0.2499, step)
    frequency = np.arange(40.0, 600.0, 2.0)
    turn = np.exp(-(2j * np.pi * frequency[:, None] + DECAY) * time)
    sent = STRENGTH * P0 * np.exp(-(((0.7 + A0 * time - 1.0) / WIDTH) ** 2))  # at the log's mouth
    incoming = turn @ sent
    computed = [turn @ (np.interp(time, record.time, record.probes[n].p) - P0) / incoming for n in probes]
    return frequency, np.array(computed), exact_response(frequency)


def exact_response(frequency):
    """The same by transfer matrices: pressure and flow (over A / (rho a)) from the shut end on."""
    k = (2.0 * np.pi * frequency - 1j * DECAY) / A0
    edges = np.diff([0.0, *PLACES, TOTAL])
    ratio = (SIDE / LOG) ** 2
    pressure, flow = np.ones_like(k, dtype=complex), np.zeros_like(k, dtype=complex)
    ends = {}
    for n in range(len(edges) - 1, -1, -1):
        c, s = np.cos(k * edges[n]), np.sin(k * edges[n])
        pressure, flow = c * pressure + 1j * s * flow, 1j * s * pressure + c * flow
        if n > 0:
            shut = k * LENGTHS[n - 1]
            ends[n] = pressure / np.cos(shut)
            flow = flow + 1j * ratio * np.tan(shut) * pressure
    incoming = 0.5 * (pressure + flow)
    return np.array([ends[n] / incoming for n in sorted(ends)])


def checks():
    """Formulas within 0.03 heads; measured tees 0.3; the table 0.1 (dividing) and 0.36; sound
    within 1 % of its peak."""
    rows = []
    for dividing, drives, name in ((True, DIVIDING, "dividing"), (False, COMBINING, "combining")):
        for delta, bore in ((90.0, BORE), (45.0, BORE), (90.0, 0.5 * BORE)):
            for drive in drives:
                q, *found = losses(drive, delta, bore)
                given = momentum_losses(dividing, q, delta, (BORE / bore) ** 2)
                for leg, k, exact in zip((STRAIGHT, BRANCH), found, given, strict=True):
                    label = f"{delta:.0f} deg, {1e3 * bore:.0f} mm, q = {q:.2f}: K {leg}"
                    scale = max(1.0, (q * (BORE / bore) ** 2) ** 2)
                    rows.append(Check(f"{name} tee", label, exact, k, 0.03 * scale, BASSETT, "absolute"))
        for drive in drives:
            q, *found = losses(drive)
            for leg, k, fit in zip((STRAIGHT, BRANCH), found, measured_losses(dividing, q), strict=True):
                label = f"measured, q = {q:.2f}: K {leg}"
                within = 0.15 if dividing else 0.3
                rows.append(Check(f"{name} tee", label, fit, k, within, GARDEL, "absolute"))
    for (dividing, delta), table in TABLE.items():
        name, within = ("dividing", 0.1) if dividing else ("combining", 0.36)
        for drive in DIVIDING if dividing else COMBINING:
            q, *found = losses(drive, delta)
            if not SHARES[0] <= q <= SHARES[-1]:
                continue
            for leg, k, row in zip((STRAIGHT, BRANCH), found, table, strict=True):
                label = f"table, {delta:.0f} deg, q = {q:.2f}: K {leg}"
                read = float(np.interp(q, SHARES, row))
                rows.append(Check(f"{name} tee", label, read, k, within, SHEET, "absolute"))
    for drive in DIVIDING[1:]:
        q, _, k = losses(drive, 90.0, 0.5 * BORE, 0.4)
        faster = (4.0 * q) ** 2
        rows.append(
            Check(
                "mouth in a wall",
                f"q = {q:.2f}: K",
                1.0 + 0.4 * faster,
                k,
                0.02 * (1.0 + faster),
                TALIEV,
                "absolute",
            )
        )
    _, computed, exact = log_response()
    for k, (one, other) in enumerate(zip(computed, exact, strict=True), 1):
        worst = np.max(np.abs(one - other)) / np.max(np.abs(other))
        rows.append(
            Check(
                "log with side branches",
                f"branch {k}: worst difference over peak",
                0.01,
                worst,
                0,
                MUNJAL,
                "at most",
            )
        )
    return rows


def draw(axes):
    """Response of the log."""
    frequency, computed, exact = log_response()
    for k, mark in ((0, "o"), (3, "s")):
        axes.plot(frequency, np.abs(exact[k]), "k-", lw=1)
        axes.plot(
            frequency[::4],
            np.abs(computed[k][::4]),
            mark,
            ms=4,
            mfc="none",
            label=f"computed, branch {k + 1}",
        )
    axes.plot([], [], "k-", lw=1, label="transfer matrices")
    axes.set(
        xlabel="frequency, Hz",
        ylabel="pressure at the shut end over incoming wave",
        title="Log with four shut side branches",
    )
    axes.legend()
