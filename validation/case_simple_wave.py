"""Smooth wave of finite amplitude before it breaks, against the exact Riemann-invariant solution.

A periodic wave travelling right with u = U sin(k xi), a = a0 + (gamma - 1) u / 2 and
x = xi + (a0 + (gamma + 1) u / 2) t (Landau & Lifshitz, Fluid Mechanics, section 101; closed form).
Marched to 45 % of the breaking time 2 / ((gamma + 1) k U). The observed order is that between 20
and 160 cells a wavelength. The same solution with a piston, x = (a0 + (gamma + 1) u / 2)(t - tau),
u = U sin(omega tau), is checked along 5 m of duct, where a piston of 100 Hz and 10 m/s has the
profile on its way to breaking at 15.990 m.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

AMPLITUDE = 0.1  # of the sound speed
SHARE = 0.45  # of the breaking time
LENGTH = 1.0
SOURCE = "Landau & Lifshitz section 101 (closed form)"


def exact_velocity(x, time, top):
    """u(x, t) of the periodic wave by Newton on the characteristic's start xi."""
    k = 2 * np.pi / LENGTH
    xi = x - A0 * time
    for _ in range(100):
        u = top * np.sin(k * xi)
        residual = xi + (A0 + 0.5 * (GAMMA + 1) * u) * time - x
        xi = xi - residual / (1 + 0.5 * (GAMMA + 1) * top * k * time * np.cos(k * xi))
    return top * np.sin(k * xi)


def density(u):
    """Density of the simple wave at velocity u."""
    return P0 / (R * T0) * (1 + 0.5 * (GAMMA - 1) * u / A0) ** (2 / (GAMMA - 1))


def ready(cells, conservative):
    """The wave at its start, on a loop of ``cells``."""
    top = AMPLITUDE * A0
    k = 2 * np.pi / LENGTH

    def velocity(x):
        return top * np.sin(k * x)

    def temperature(x):
        return T0 * (1 + 0.5 * (GAMMA - 1) * velocity(x) / A0) ** 2

    def pressure(x):
        return density(velocity(x)) * R * temperature(x)

    net = Network(perfect_gas(GAMMA, R), conservative=conservative)
    net.duct(
        "loop",
        straight(LENGTH, 0.05),
        cells,
        GasState(pressure=pressure, temperature=temperature, velocity=velocity),
    )
    net.join(("loop", "left"), ("loop", "right"))
    return net.ready()


def march(cells, conservative):
    """Marched profile and the exact velocity at its nodes."""
    top = AMPLITUDE * A0
    time = SHARE * 2 / ((GAMMA + 1) * 2 * np.pi / LENGTH * top)
    run = ready(cells, conservative)
    run.march(time)
    prof = run.profile("loop")
    return prof, exact_velocity(prof.x, time, top)


def error(cells, conservative) -> float:
    """Mean density error over the undisturbed density."""
    prof, u = march(cells, conservative)
    return float(np.mean(np.abs(prof.rho - density(u)))) / density(0.0)


def orders(conservative, meshes=(20, 40, 80, 160)):
    """Errors on the meshes and the overall observed order."""
    errors = [error(n, conservative) for n in meshes]
    return errors, np.log2(errors[0] / errors[-1]) / np.log2(meshes[-1] / meshes[0])


def piston_wave(cells=240, length=6.0, place=5.0, top=10.0, frequency=100.0):
    """Velocity at ``place`` computed and exact over the last two periods before reflection."""
    net = Network(perfect_gas(GAMMA, R))
    net.duct("pipe", straight(length, 0.05), cells, GasState(pressure=P0, temperature=T0))
    net.piston("pipe", "left", top, frequency)
    net.calm("pipe", "right", P0, T0)
    run = net.ready()
    record = run.march(0.040, probes={"there": ("pipe", place)})
    time = record.time
    use = time > 0.020
    time, u = time[use], record.probes["there"].u[use]
    tau = time - place / A0
    for _ in range(200):
        speed = A0 + 0.5 * (GAMMA + 1) * top * np.sin(2 * np.pi * frequency * tau)
        tau = time - place / speed
    return u, top * np.sin(2 * np.pi * frequency * tau)


def checks():
    """Order of both members, the error ratio between them, and the piston's wave."""
    fine, order = orders(True)
    coarse, first = orders(False, (20, 40, 80, 160, 320))
    breaking = 2 * A0**2 / ((GAMMA + 1) * 2 * np.pi * 100.0 * 10.0)
    u, exact = piston_wave()
    rms = float(np.sqrt(np.mean((u - exact) ** 2)) / 10.0)
    return [
        Check("simple wave", "order of 'conservative'", 2.7, order, 0.0, SOURCE, "at least"),
        Check("simple wave", "order of 'mesh'", 1.0, first, 0.15, SOURCE, "absolute"),
        Check(
            "simple wave",
            "error of 'conservative' at 20 cells",
            coarse[-1],
            fine[0],
            0.0,
            "error of 'mesh' at 320 cells",
            "at most",
        ),
        Check("simple wave", "breaking distance, m", 15.990, breaking, 1e-4, SOURCE),
        Check("simple wave", "piston, rms velocity error at 5 m", 0.0, rms, 1e-4, SOURCE, "absolute"),
    ]


def draw(axes):
    """Mean error against cells a wavelength."""
    meshes = (20, 40, 80, 160)
    for conservative, name, mark in ((True, "conservative", "o-"), (False, "mesh", "s--")):
        errors, order = orders(conservative, meshes)
        axes.loglog(meshes, errors, mark, label=f"{name}: order {order:.2f}")
    axes.set(
        xlabel="cells a wavelength", ylabel="mean density error", title="Smooth wave at 45 % of breaking"
    )
    axes.legend()
