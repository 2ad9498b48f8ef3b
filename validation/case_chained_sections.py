"""Sections of different bore, taper and bend chained in one duct: no spurious reflections.

A small pulse runs through the chain; reflection and transmission against frequency are compared
with the exact linear solution. In a cone the area goes as r^2 with r counted from its apex, and

    p = (B e^(-ikr) + C e^(ikr)) / r,   i k rho a u = -dp/dr

(spherical waves as a one-parameter family, Kinsler & Frey; Munjal, Acoustics of Ducts and
Mufflers, conical ducts; closed form). Pressure and volume flow go on through every section
boundary. The mesh takes no notice of the boundaries. A bend and a boundary without change of bore
must reflect nothing.
"""

import numpy as np

from aircolumn import GasState, Network, Wall, perfect_gas
from aircolumn.flow.duct.geometry import Shape
from validation.case_acoustics import STRENGTH
from validation.case_reflection import BAND
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

RHO0 = P0 / (R * T0)
LEAD, PULSE, PROBE, WIDTH = 1.2, 0.6, 0.9, 0.03
CELL = 0.005
SPAN = 12e-3  # s; what a cone reflects has a long tail
SOURCE = "cone by spherical waves, Munjal (closed form)"
#: name: (lengths m, bores m at their ends) of the chain between two straight ends
CHAINS = {
    "cone 42 to 36 mm": ((0.183,), (0.042, 0.036)),
    "cone, straight, cone": ((0.091, 0.127, 0.059), (0.042, 0.034, 0.034, 0.046)),
    "short cone 42 to 30 mm": ((0.023,), (0.042, 0.030)),
}


def march(lengths, bores, bend=0.0, cell=CELL, joined=False):
    """(frequency, R at the start of the chain, T at its end) from a pulse and its transform."""
    tail = 1.2
    whole = np.cumsum([0.0, LEAD, *lengths, tail])
    shape = Shape(whole, np.array([bores[0], *bores, bores[-1]]))

    def pulse(x):
        return STRENGTH * np.exp(-(((x - PULSE) / WIDTH) ** 2))

    start = GasState(
        pressure=lambda x: P0 * (1 + pulse(x)),
        temperature=lambda x: T0 * (1 + (GAMMA - 1) / GAMMA * pulse(x)),
        velocity=lambda x: P0 * pulse(x) / (RHO0 * A0),
    )
    net = Network(perfect_gas(GAMMA, R))
    first = "duct"
    if joined:  # cut in two at the start of the chain
        cut = Shape(whole[1:] - whole[1], shape.diameter[1:])
        net.duct("duct", Shape(whole[:2], shape.diameter[:2]), round(LEAD / cell), start)
        net.duct("rest", cut, round(cut.length / cell), GasState(pressure=P0, temperature=T0))
        net.join(("duct", "right"), ("rest", "left"))
        first = "rest"
    else:
        wall = Wall(bend=lambda x: np.where((x > LEAD) & (x < LEAD + lengths[0]), bend, 0.0))
        net.duct("duct", shape, round(shape.length / cell), start, wall)
    net.calm("duct", "left", P0, T0)
    net.calm(first, "right", P0, T0)
    before = LEAD if joined else 0.0  # distance at which the duct of the second probe begins
    probes = {"here": ("duct", PROBE), "there": (first, whole[-2] + 0.2 - before)}
    record = net.ready().march(SPAN + 1e-4, probes=probes)
    return _ratios(record, before + record.probes["there"].x)


def _ratios(record, there):
    time = np.arange(0.0, SPAN, 2e-6)
    size = 8 * time.size
    waves = {}
    for name in ("here", "there"):
        probe = record.probes[name]
        p = np.interp(time, record.time, probe.p) / P0 - 1
        u = np.interp(time, record.time, probe.u) * RHO0 * A0 / P0
        waves[name] = [np.fft.rfft(0.5 * (p + sign * u), size) for sign in (1, -1)]
    frequency = np.fft.rfftfreq(size, 2e-6)
    use = (frequency > BAND[0]) & (frequency < BAND[1])
    f, x = frequency[use], record.probes["here"].x
    k = 2 * np.pi * f / A0
    onward = waves["here"][0][use]
    reflected = waves["here"][1][use] / onward * np.exp(2j * k * (LEAD - x))
    through = waves["there"][0][use] / onward * np.exp(1j * k * (there - x))
    return f, reflected, through


def exact(f, lengths, bores):
    """R at the start of the chain and T from there to any place behind it, phase of the plain
    travel taken out: exp(-i k length) belongs to T."""
    k = 2 * np.pi * f / A0
    ones = np.ones_like(k, dtype=complex)
    # From the far end back: p and volume flow (times rho a) of a wave leaving to the right.
    p, q = ones, 0.25 * np.pi * bores[-1] ** 2 * ones
    for length, d1, d2 in reversed(list(zip(lengths, bores, bores[1:], strict=False))):
        p, q = _back(k, length, d1, d2, p, q)
    area = 0.25 * np.pi * bores[0] ** 2
    to, back = 0.5 * (p + q / area), 0.5 * (p - q / area)
    return back / to, np.exp(1j * k * sum(lengths)) / to


def _back(k, length, d1, d2, p, q):
    """Pressure and volume flow at the start of a section from those at its end."""
    if d1 == d2:
        area = 0.25 * np.pi * d1**2
        to, fro = 0.5 * (p + q / area), 0.5 * (p - q / area)
        to, fro = to * np.exp(1j * k * length), fro * np.exp(-1j * k * length)
        return to + fro, area * (to - fro)
    # x = r - r_apex; bore proportional to r (negative r in a narrowing cone)
    r1, r2 = d1 * length / (d2 - d1), d2 * length / (d2 - d1)

    def fields(r, d):
        area = 0.25 * np.pi * d**2
        b, c = np.exp(-1j * k * r) / r, np.exp(1j * k * r) / r
        # rho a u = -(1/(i k)) dp/dr
        ub, uc = b * (1 + 1 / (1j * k * r)), -c * (1 - 1 / (1j * k * r))
        return b, c, area * ub, area * uc

    b, c, ub, uc = fields(r2, d2)
    det = b * uc - c * ub
    wb, wc = (p * uc - c * q) / det, (b * q - p * ub) / det
    b, c, ub, uc = fields(r1, d1)
    return wb * b + wc * c, wb * ub + wc * uc


def checks():
    """Worst distance in the complex plane over the band."""
    rows = []

    def row(case, quantity, worst, limit, source=SOURCE):
        rows.append(Check(case, quantity, limit, float(worst), 0, source, "at most"))

    for name, (lengths, bores) in CHAINS.items():
        f, got_r, got_t = march(lengths, bores)
        r, t = exact(f, lengths, bores)
        row("chained sections", f"{name}: worst |R - exact|", np.abs(got_r - r).max(), 0.002)
        row("chained sections", f"{name}: worst |T - exact|", np.abs(got_t - t).max(), 0.002)
    same = ((0.2,), (0.042, 0.042))
    source = "no change of bore (closed form)"
    row("chained sections", "bend, |R|", np.abs(march(*same, bend=3.0)[1]).max(), 1e-3, source)
    row("chained sections", "cut and joined, |R|", np.abs(march(*same, joined=True)[1]).max(), 1e-3, source)
    return rows


def draw(axes):
    """|R| against frequency."""
    marks = iter("osv")
    for name, (lengths, bores) in CHAINS.items():
        f, got, _ = march(lengths, bores)
        axes.plot(f, np.abs(exact(f, lengths, bores)[0]), "k-", lw=0.8)
        axes.plot(f[::12], np.abs(got[::12]), next(marks), mfc="none", ms=5, label=name)
    axes.set(xlabel="frequency, Hz", ylabel="|R|", title="Reflection of chained sections")
    axes.legend(fontsize=8)
