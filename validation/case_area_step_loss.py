"""Loss of stagnation pressure at a sudden step in slow steady flow.

Widening: Borda-Carnot, (1 - A1/A2)^2 of the dynamic head before it (any hydraulics handbook).
Narrowing: 0.5 (1 - A2/A1) of the dynamic head behind it (sharp edge, handbook value, from memory).
Small waves at a step: as in the acoustic limit (Kinsler & Frey).
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.case_acoustics import add_far_duct, add_source_duct, split, strength
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R


def loss(first, second) -> float:
    """Stagnation-pressure loss over the dynamic head in the narrow bore."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("before", P0 + 100.0, T0)
    net.reservoir("after", P0, T0)
    for name, bore in (("first", first), ("second", second)):
        net.duct(name, straight(0.3, bore), 20, GasState(pressure=P0, temperature=T0))
    net.opening("first", "left", "before")
    net.step(("first", "right"), ("second", "left"))
    net.opening("second", "right", "after")
    run = net.ready()
    run.march(0.9)
    ends = run.profile("first"), run.profile("second")
    states = [(e.p[k], e.u[k], e.a[k]) for e, k in zip(ends, (-1, 0), strict=True)]
    rho = [GAMMA * p / a**2 for p, _, a in states]
    stagnation = [p * (1 + 0.5 * (GAMMA - 1) * (u / a) ** 2) ** (GAMMA / (GAMMA - 1)) for p, u, a in states]
    narrow = 0 if first < second else 1
    return (stagnation[0] - stagnation[1]) / (0.5 * rho[narrow] * states[narrow][1] ** 2)


def small_wave(first, second):
    """Reflected and transmitted share of a small pulse."""
    net = Network(perfect_gas(GAMMA, R))
    add_source_duct(net, "0", first)
    add_far_duct(net, "1", second)
    net.step(("0", "right"), ("1", "left"))
    run = net.ready()
    run.march(1.0 / A0)
    one, two = run.profile("0"), run.profile("1")
    return strength(one.x, split(one.p, one.u)[1]), strength(two.x, split(two.p, two.u)[0])


def checks():
    """Losses within 1 %, waves within 0.2 %."""
    rows = []
    for second in (0.05, 0.08):
        ratio = (0.04 / second) ** 2
        label, source = f"widening, A1/A2 = {ratio:.2f}", "Borda-Carnot (hydraulics handbooks)"
        rows.append(Check("step loss", label, (1 - ratio) ** 2, loss(0.04, second), 0.01, source))
    for second in (0.03, 0.02):
        ratio = (second / 0.04) ** 2
        label, source = f"narrowing, A2/A1 = {ratio:.2f}", "Crane TP-410 (as in the library fluids)"
        rows.append(Check("step loss", label, 0.5 * (1 - ratio), loss(0.04, second), 0.01, source))
    for second in (0.06, 0.02):
        a1, a2 = 0.04**2, second**2
        exact = (a1 - a2) / (a1 + a2), 2 * a1 / (a1 + a2)
        for name, e, got in zip(("reflected", "transmitted"), exact, small_wave(0.04, second), strict=True):
            label = f"small wave, {1e3 * second:.0f} mm: {name}"
            rows.append(Check("step loss", label, e, got, 0.002, "Kinsler & Frey (closed form)"))
    return rows


def draw(axes):
    """Loss coefficient against area ratio."""
    ratios = np.linspace(0.1, 0.9, 5)
    line = np.linspace(0, 1, 50)
    axes.plot(line, (1 - line) ** 2, "k-", lw=1, label="Borda-Carnot, widening")
    axes.plot(line, 0.5 * (1 - line), "k--", lw=1, label="0.5 (1 - A2/A1), narrowing")
    bores = 0.04 * np.sqrt(ratios)
    axes.plot(ratios, [loss(b, 0.04) for b in bores], "o", mfc="none", label="computed")
    axes.plot(ratios, [loss(0.04, b) for b in bores], "s", mfc="none", label="computed")
    axes.set(xlabel="small over large area", ylabel="loss over dynamic head", title="Sudden step")
    axes.legend()
