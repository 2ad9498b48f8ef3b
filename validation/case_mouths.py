"""Mouths, and legs that go straight on, in compressible flow: against closed forms up to choking.

A mouth, of a pipe on a vessel or in the wall of a log so wide that the gas in it is nearly at rest,
loses K of the dynamic head in its bore in stagnation pressure (Idelchik, Handbook of Hydraulic
Resistance, section 1). For steady flow from rest at p0, T0 to a pipe's end at p, with no friction:

    p (1 + (g-1)/2 M^2)^(g/(g-1)) + K g p M^2 / 2 = p0,   T = T0 / (1 + (g-1)/2 M^2)

A pipe that widens at once, whether in a step or in a junction whose other legs are idle and which
it enters at 0 degrees, meets Borda-Carnot: mass, energy, and momentum with the pressure p1 on the
whole of the wider bore (Shapiro, vol. 1, ch. 5; closed form),

    p1 A2 + m u1 = p2 A2 + m u2.

Where pipes together are wider than the one they go on in, no law is exact; stagnation pressure is
never gained (second law).
"""

from functools import cache

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.gas_constants import GAMMA, R

P0, T0 = 1e5, 300.0
BORE, LOG = 0.04, 0.6
LOSSES = (0.04, 0.5)
BACK = (0.98e5, 0.93e5, 0.87e5, 0.8e5, 0.7e5, 0.6e5)  # Pa, at the pipe's end
PRIMARY, COLLECTOR = 0.038, 0.055
IDELCHIK, BORDA = "Idelchik, sect. 1 (closed form)", "Borda-Carnot (closed form)"


def stagnation(profile, k):
    """Mach number and stagnation pressure at node ``k``."""
    mach = profile.u[k] / profile.a[k]
    return mach, profile.p[k] * (1.0 + 0.5 * (GAMMA - 1.0) * mach**2) ** (GAMMA / (GAMMA - 1.0))


@cache
def through_mouth(back, loss, log):
    """Mass flux, kg/(m2 s), through a pipe's mouth on a vessel, or in the wall of a log."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("source", P0, T0)
    net.reservoir("end", back, T0)
    net.duct("runner", straight(0.3, BORE), 30, GasState(pressure=back, temperature=T0))
    net.opening("runner", "right", "end")
    if log:
        full = GasState(pressure=P0, temperature=T0)
        net.duct("log", straight(0.3, LOG), 30, full)
        net.duct("rest", straight(0.1, LOG), 10, full)
        net.opening("log", "left", "source")
        net.closed("rest", "right")
        net.junction(
            ("log", "right"),
            ("rest", "left"),
            ("runner", "left"),
            angles=[180.0, 0.0, 90.0],
            mouths=[None, None, loss],
        )
    else:
        net.opening("runner", "left", "source", loss=loss)
    run = net.ready()
    run.march(0.15)
    profile = run.profile("runner")
    return float(np.mean(profile.rho * profile.u)), stagnation(profile, 15)[1]


def flux_with_loss(back, loss):
    """Mass flux and Mach number by the closed form."""

    def left(mach):
        total = back * (1.0 + 0.5 * (GAMMA - 1.0) * mach**2) ** (GAMMA / (GAMMA - 1.0))
        return total + 0.5 * loss * GAMMA * back * mach**2 - P0

    mach = brentq(left, 1e-3, 1.0)
    t = T0 / (1.0 + 0.5 * (GAMMA - 1.0) * mach**2)
    return back / (R * t) * mach * np.sqrt(GAMMA * R * t), mach


@cache
def into_collector(blowing, angle, back):
    """(profile of a primary, of the collector) once the flow of four primaries is steady, of which
    the first ``blowing`` are fed and the others shut at their far ends."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("end", back, T0)
    net.reservoir("source", P0, T0)
    legs = []
    for k in range(4):
        net.duct(f"primary {k}", straight(0.2, PRIMARY), 20, GasState(pressure=back, temperature=T0))
        if k < blowing:
            net.opening(f"primary {k}", "left", "source")
        else:
            net.closed(f"primary {k}", "left")
        legs.append((f"primary {k}", "right"))
    net.duct("collector", straight(0.3, COLLECTOR), 30, GasState(pressure=back, temperature=T0))
    net.opening("collector", "right", "end")
    net.junction(*legs, ("collector", "left"), angles=[180.0 - angle] * 4 + [0.0])
    run = net.ready()
    run.march(0.2)
    return run.profile("primary 0"), run.profile("collector")


def beyond_widening(p1, mach, ratio):
    """p2 / p1 of Borda-Carnot for the Mach number before it; ``ratio``: A1 / A2."""
    kept = mach * np.sqrt(1.0 + 0.5 * (GAMMA - 1.0) * mach**2)  # m sqrt(R T0 / g) / (A1 p1)

    def momentum(m2):
        p = ratio * kept / (m2 * np.sqrt(1.0 + 0.5 * (GAMMA - 1.0) * m2**2))
        return 1.0 + GAMMA * ratio * mach**2 - p * (1.0 + GAMMA * m2**2)

    m2 = brentq(momentum, 1e-3, 1.0)
    return ratio * kept / (m2 * np.sqrt(1.0 + 0.5 * (GAMMA - 1.0) * m2**2))


def checks():
    """Mouths within 0.05 %, in a log 0.1 % (its gas moves a little); Borda-Carnot within 0.1 %."""
    rows = []
    for loss in LOSSES:
        for log, where, within in ((False, "vessel", 5e-4), (True, "log", 1e-3)):
            totals = []
            for back in BACK:
                exact, mach = flux_with_loss(back, loss)
                flux, total = through_mouth(back, loss, log)
                label = f"{where}, K {loss}, M {mach:.3f}: kg/(s m2)"
                rows.append(Check("mouth", label, exact, flux, within, IDELCHIK))
                totals.append(total / P0)
            rows.append(
                Check(
                    "mouth",
                    f"{where}, K {loss}: highest p0 / p0 before",
                    1.0,
                    max(totals),
                    0.0,
                    "second law",
                    "at most",
                )
            )
    ratio = (PRIMARY / COLLECTOR) ** 2
    primary, collector = into_collector(1, 0.0, 0.998e5)
    (mach, before), (_, after) = stagnation(primary, 10), stagnation(collector, 15)
    head = before - primary.p[10]
    rows.append(
        Check(
            "straight into a collector",
            f"M {mach:.3f}, 3 idle legs: K",
            (1.0 - ratio) ** 2,
            (before - after) / head,
            0.005,
            BORDA,
        )
    )
    for back in (0.95e5, 0.87e5, 0.8e5):
        primary, collector = into_collector(1, 0.0, back)
        mach, p1 = primary.u[-1] / primary.a[-1], primary.p[-1]
        rows.append(
            Check(
                "straight into a collector",
                f"M {mach:.3f}: p2 / p1",
                beyond_widening(p1, mach, ratio),
                collector.p[0] / p1,
                1e-3,
                BORDA,
            )
        )
    for angle in (0.0, 15.0):
        for back in (0.85e5, 0.5e5):
            primary, collector = into_collector(4, angle, back)
            (_, before), (mach, after) = stagnation(primary, 10), stagnation(collector, 15)
            rows.append(
                Check(
                    "four into one",
                    f"{angle:.0f} deg, M {mach:.3f}: p0 / p0 before",
                    1.0,
                    after / before,
                    0.0,
                    "second law",
                    "at most",
                )
            )
    return rows


def draw(axes):
    """Mass flux through a log's mouth against back pressure."""
    grid = np.linspace(0.58e5, 0.995e5, 60)
    for loss, mark in zip(LOSSES, "os", strict=True):
        axes.plot(1e-3 * grid, [flux_with_loss(p, loss)[0] for p in grid], "k-", lw=1)
        axes.plot(
            [1e-3 * p for p in BACK],
            [through_mouth(p, loss, True)[0] for p in BACK],
            mark,
            mfc="none",
            label=f"computed, K {loss}",
        )
    axes.plot([], [], "k-", lw=1, label="closed form")
    axes.set(
        xlabel="pressure at the pipe's end, kPa",
        ylabel="mass flux, kg/(s m2)",
        title="Steady flow through a mouth in a log's wall",
    )
    axes.legend()
