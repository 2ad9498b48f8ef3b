"""Pressure and velocity that are known over time, put at the end of a pipe.

A simple wave of 10 m/s and 100 Hz enters a pipe at rest, as in case_simple_wave.py, once by its pressure
p = p0 (1 + (gamma - 1) u / 2 a0)^(2 gamma / (gamma - 1)) and once by its velocity (Landau & Lifshitz, Fluid
Mechanics, section 101; closed form).

A pipe is cut: a pulse runs to and fro between a half-open end and a wall, so that gas flows both ways
through the place of the cut. What was recorded there is put at the end of the part behind it, whose
flow must be as it was: between the two marches nothing differs but the end. (Such an end sends back what
reaches it, as an open one does: what a mesh has wrong there stays in the pipe.)
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.case_simple_wave import SOURCE
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

TOP, FREQUENCY, PLACE = 10.0, 100.0, 5.0
CUT, LENGTH, BORE = 0.4, 1.0, 0.04  # m
SPAN = 0.015  # s, in which the pulse passes the cut five times


def exact_wave(time):
    """Velocity at PLACE: u(tau) of the characteristic that started at tau."""
    tau = time - PLACE / A0
    for _ in range(200):
        tau = time - PLACE / (A0 + 0.5 * (GAMMA + 1) * TOP * np.sin(2 * np.pi * FREQUENCY * tau))
    return TOP * np.sin(2 * np.pi * FREQUENCY * tau)


def wave_error(by):
    """Rms error of the velocity at PLACE over TOP, of the wave that enters by its ``by``."""
    time = np.linspace(0.0, 1.0 / FREQUENCY, 1001)
    u = TOP * np.sin(2 * np.pi * FREQUENCY * time)
    net = Network(perfect_gas(GAMMA, R))
    net.duct("pipe", straight(6.0, 0.05), 240, GasState(pressure=P0, temperature=T0))
    if by == "pressure":
        p = P0 * (1 + 0.5 * (GAMMA - 1) * u / A0) ** (2 * GAMMA / (GAMMA - 1))
        net.pressure_over_time("pipe", "left", time, p, at_mean(p, time), period=1.0 / FREQUENCY)
    else:
        net.velocity_over_time("pipe", "left", time, u, period=1.0 / FREQUENCY)
    net.calm("pipe", "right", P0, T0)
    record = net.ready().march(0.040, probes={"there": ("pipe", PLACE)})
    use = record.time > 0.020
    off = record.probes["there"].u[use] - exact_wave(record.time[use])
    return float(np.sqrt(np.mean(off**2))) / TOP


def at_mean(p, time):
    """Temperature, K, of gas with the entropy of P0 and T0 at the mean of a course of pressures."""
    mean = np.trapezoid(p, time) / (time[-1] - time[0])
    return T0 * (mean / P0) ** ((GAMMA - 1) / GAMMA)


def whole_pipe(cells):
    """Record of the pulse at the cut and at the wall behind it."""
    net = Network(perfect_gas(GAMMA, R))
    high = lambda x: P0 * (1 + 0.02 * np.exp(-(((x - 0.2) / 0.06) ** 2)))  # noqa: E731
    net.duct(
        "pipe",
        straight(LENGTH, BORE),
        cells,
        GasState(pressure=high, temperature=lambda x: T0 * (high(x) / P0) ** ((GAMMA - 1) / GAMMA)),
    )
    net.reservoir("air", P0, T0)
    net.restriction("pipe", "left", "air", 0.5 * np.pi / 4 * BORE**2)
    net.closed("pipe", "right")
    return net.ready().march(SPAN, probes={"cut": ("pipe", CUT), "wall": ("pipe", LENGTH)})


def behind_the_cut(cells, record):
    """Pressure at the wall of the part behind the cut, with the record at its end."""
    net = Network(perfect_gas(GAMMA, R))
    net.duct(
        "rest",
        straight(LENGTH - CUT, BORE),
        round(cells * (1.0 - CUT / LENGTH)),
        GasState(pressure=P0, temperature=T0),
    )
    cut = record.probes["cut"].p
    net.pressure_over_time("rest", "left", record.time, cut, at_mean(cut, record.time))
    net.closed("rest", "right")
    found = net.ready().march(SPAN, probes={"wall": ("rest", "right")})
    return found.time, found.probes["wall"].p


def cut_error(cells):
    """Largest error of the pressure at the wall over its swing, and the courses behind it."""
    record = whole_pipe(cells)
    time, p = behind_the_cut(cells, record)
    true = np.interp(time, record.time, record.probes["wall"].p)
    return float(np.max(np.abs(p - true)) / np.ptp(true)), (time, true, p)


def checks():
    """The two ways in, and the cut pipe on two meshes."""
    coarse, fine = cut_error(50)[0], cut_error(200)[0]
    waves = [
        ("velocity, rms error at 5 m, by " + by, wave_error(by), SOURCE) for by in ("pressure", "velocity")
    ]
    cut = ("cut pipe, 200 cells a metre, largest error over swing", fine, "the whole pipe, same solver")
    return [
        *(Check("over time", name, 0.0, off, 1e-4, source, "absolute") for name, off, source in waves),
        Check("over time", cut[0], 0.0, cut[1], 5e-4, cut[2], "absolute"),
        Check("over time", "the same of 50 cells over it", 8.0, coarse / fine, 0.0, cut[2], "at least"),
    ]


def draw(axes):
    """Pressure at the wall of the whole pipe and of the part behind the cut."""
    _, (time, true, p) = cut_error(200)
    axes.plot(1e3 * time, 1e-3 * true, "-", label="whole pipe")
    axes.plot(1e3 * time[::8], 1e-3 * p[::8], "o", markersize=3, fillstyle="none", label="behind the cut")
    axes.set(xlabel="time, ms", ylabel="pressure at the wall, kPa", title="A recorded pressure as an end")
    axes.legend()
