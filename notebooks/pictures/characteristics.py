"""The picture of the theory page, from the solver: python notebooks/pictures/characteristics.py"""

from itertools import pairwise
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.colors import TwoSlopeNorm
from scipy.interpolate import RegularGridInterpolator

from aircolumn import GasState, Network, perfect_gas, straight

PICTURE = Path(__file__).resolve().parent.parent / "guide" / "characteristics.png"
P0, T0, GAMMA, R = 1e5, 300.0, 1.4, 287.05
A0 = np.sqrt(GAMMA * R * T0)
LENGTH, HIGH = 1.0, 0.3  # m; of a pulse, relative
LEVELS = [-30, -20, -10, -5, -2, 2, 5, 10, 20, 30, 50, 70]  # kPa
SHADES = TwoSlopeNorm(0.0, -45.0, 70.0)
TIMES = np.linspace(0.0, 4.5e-3, 181)


def pulse(end):
    """Pressure, velocity and speed of sound (times, places) of a pulse that runs to the right, and places."""

    def excess(x):
        return HIGH * np.exp(-(((x - 0.25) / 0.08) ** 2))

    def sound(x):
        return A0 * (1 + excess(x)) ** ((GAMMA - 1) / (2 * GAMMA))

    net = Network(perfect_gas(GAMMA, R))
    start = GasState(
        pressure=lambda x: P0 * (1 + excess(x)),
        temperature=lambda x: sound(x) ** 2 / (GAMMA * R),
        velocity=lambda x: 2 / (GAMMA - 1) * (sound(x) - A0),
    )
    net.duct("pipe", straight(LENGTH, 0.04), 400, start)
    net.calm("pipe", "left", P0, T0)
    if end == "closed":
        net.closed("pipe", "right")
    else:
        net.reservoir("air", P0, T0)
        net.opening("pipe", "right", "air")
    run, rows = net.ready(), []
    for time in TIMES:
        if time > run.time:
            run.march(time - run.time)
        rows.append(run.profile("pipe"))
    return (np.array([getattr(r, name) for r in rows]) for name in ("p", "u", "a")), rows[0].x


def path(speed, x, time):
    """Where something that moves at ``speed`` (of time and place) is, until it leaves the pipe."""
    found = [(x, time)]
    for now, then in pairwise(TIMES):
        if now < time:
            continue
        half = x + 0.5 * (then - now) * float(speed((now, np.clip(x, 0.0, LENGTH))))
        x += (then - now) * float(speed((0.5 * (now + then), np.clip(half, 0.0, LENGTH))))
        found.append((x, then))
        if not 0.0 <= x <= LENGTH:
            break
    return np.array(found).T


def drawn():
    """Both ends side by side."""
    fig, panels = plt.subplots(1, 2, figsize=(10, 4.6), sharey=True, layout="constrained")
    for panel, end in zip(panels, ("closed", "open"), strict=True):
        (p, u, a), x = pulse(end)
        filled = panel.contourf(x, 1e3 * TIMES, (p - P0) / 1e3, LEVELS, cmap="RdBu_r", norm=SHADES)
        lines = (
            (u + a, "k-", "u + a", [(s, 0.0) for s in np.arange(0.05, 1.0, 0.05)]),
            (u - a, "k--", "u - a", [(LENGTH, t) for t in TIMES[16:150:8]]),
            (u, "k:", "gas", [(s, 0.0) for s in (0.4, 0.6, 0.8)]),
        )
        for values, style, name, starts in lines:
            speed = RegularGridInterpolator((TIMES, x), values)
            for k, (place, time) in enumerate(starts):
                where, when = path(speed, place, time)
                panel.plot(where, 1e3 * when, style, lw=0.8, label=name if k == 0 else None)
        panel.set(xlim=(0, LENGTH), ylim=(0, 4.5), xlabel="distance, m", title=f"{end} end at 1 m")
    panels[0].set_ylabel("time, ms")
    panels[0].legend(loc="upper left", framealpha=0.9)
    fig.colorbar(filled, ax=panels, label="pressure above rest, kPa", ticks=LEVELS)
    fig.savefig(PICTURE, dpi=110)


if __name__ == "__main__":
    drawn()
