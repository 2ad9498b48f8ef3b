"""Small waves at changes of area: step, junction, expansion chamber.

Acoustic limit (closed form): step reflected (A1 - A2)/(A1 + A2), transmitted 2 A1/(A1 + A2)
(Kinsler & Frey, Fundamentals of Acoustics); three equal ducts reflected -1/3, transmitted 2/3.
Expansion chamber: TL = 10 log10(1 + 0.25 (m - 1/m)^2 sin^2 kL), peak 6.547 dB for m = 4, 13.171 dB
for m = 9 (Munjal, Acoustics of Ducts and Mufflers), from a short pulse and its Fourier transform.
"""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight
from validation.check import Check
from validation.gas_constants import A0, GAMMA, P0, T0, R

KINSLER = "Kinsler & Frey (closed form)"
MUNJAL = "Munjal (closed form)"
STRENGTH = 1e-4  # relative pressure of the pulse
WIDTH = 0.03  # m


def pulse(x, centre):
    """Relative pressure of a right-running Gaussian pulse."""
    return STRENGTH * np.exp(-(((x - centre) / WIDTH) ** 2))


def add_source_duct(net, name, bore, length=1.0, centre=0.5):
    """A duct with a pulse on its way to the right end; the left end is calm."""
    rho = P0 / (R * T0)
    net.duct(
        name,
        straight(length, bore),
        round(200 * length),
        GasState(
            pressure=lambda x: P0 * (1 + pulse(x, centre)),
            temperature=lambda x: T0 * (1 + (GAMMA - 1) / GAMMA * pulse(x, centre)),
            velocity=lambda x: P0 * pulse(x, centre) / (rho * A0),
        ),
    )
    net.calm(name, "left", P0, T0)


def add_far_duct(net, name, bore, length=1.0):
    """A duct at rest whose far end is calm."""
    net.duct(name, straight(length, bore), round(200 * length), GasState(pressure=P0, temperature=T0))
    net.calm(name, "right", P0, T0)


def split(p, u):
    """Right- and left-running relative pressures of a small wave."""
    rise = (p - P0) / P0
    swing = P0 / (R * T0) * A0 * u / P0
    return 0.5 * (rise + swing), 0.5 * (rise - swing)


def strength(x, wave):
    """Area under a pulse over that of the pulse sent out (its peak may fall between nodes)."""
    return float(np.trapezoid(wave, x)) / (STRENGTH * WIDTH * np.sqrt(np.pi))


def meeting(bores):
    """Reflected and transmitted peaks where the first duct meets the others."""
    net = Network(perfect_gas(GAMMA, R))
    add_source_duct(net, "0", bores[0])
    for k, bore in enumerate(bores[1:], 1):
        add_far_duct(net, str(k), bore)
    net.junction(("0", "right"), *[(str(k), "left") for k in range(1, len(bores))])
    run = net.ready()
    run.march(1.0 / A0)
    first, second = run.profile("0"), run.profile("1")
    return strength(first.x, split(first.p, first.u)[1]), strength(second.x, split(second.p, second.u)[0])


def transmission_loss(ratio):
    """Transmission loss, dB, of a 0.3 m chamber against frequency, computed and exact."""
    net = Network(perfect_gas(GAMMA, R))
    add_source_duct(net, "in", 0.03, centre=0.7)
    net.duct("chamber", straight(0.3, 0.03 * np.sqrt(ratio)), 100, GasState(pressure=P0, temperature=T0))
    add_far_duct(net, "out", 0.03, length=0.5)
    net.junction(("in", "right"), ("chamber", "left"))
    net.junction(("chamber", "right"), ("out", "left"))
    probes = {"in": ("in", 0.9), "out": ("out", 0.25)}
    record = net.ready().march(0.09, probes=probes)
    time = np.arange(0.0, 0.0899, 5e-6)
    waves = []
    for name in ("in", "out"):
        probe = record.probes[name]
        p, u = (np.interp(time, record.time, v) for v in (probe.p, probe.u))
        waves.append(split(p, u)[0])
    frequency = np.fft.rfftfreq(time.size, 5e-6)
    spectra = [np.abs(np.fft.rfft(w)) for w in waves]
    use = (frequency > 60) & (frequency < 1100)
    loss = 20 * np.log10(spectra[0][use] / spectra[1][use])
    k = 2 * np.pi * frequency[use] / A0
    exact = 10 * np.log10(1 + 0.25 * (ratio - 1 / ratio) ** 2 * np.sin(0.3 * k) ** 2)
    return frequency[use], loss, exact


def checks():
    """Coefficients within 0.2 %, transmission loss within 0.05 dB over two lobes."""
    rows = []
    for name, big in (("widening", 0.06), ("narrowing", 0.02)):
        a1, a2 = 0.04**2, big**2
        reflected, transmitted = meeting([0.04, big])
        exact = (a1 - a2) / (a1 + a2), 2 * a1 / (a1 + a2)
        rows.append(Check("area step", f"{name}: reflected", exact[0], reflected, 0.002, KINSLER))
        rows.append(Check("area step", f"{name}: transmitted", exact[1], transmitted, 0.002, KINSLER))
    reflected, transmitted = meeting([0.04, 0.04, 0.04])
    rows.append(Check("three ducts", "reflected", -1 / 3, reflected, 0.002, KINSLER))
    rows.append(Check("three ducts", "transmitted", 2 / 3, transmitted, 0.002, KINSLER))
    for ratio, top in ((4, 6.547), (9, 13.171)):
        _, loss, exact = transmission_loss(ratio)
        label = f"m = {ratio}: peak, dB"
        rows.append(Check("expansion chamber", label, top, loss.max(), 0.003, MUNJAL))
        worst = np.max(np.abs(loss - exact))
        label = f"m = {ratio}: worst difference, dB"
        rows.append(Check("expansion chamber", label, 0.05, worst, 0, MUNJAL, "at most"))
    return rows


def draw(axes):
    """Transmission loss against frequency."""
    for ratio, mark in ((4, "o"), (9, "s")):
        frequency, loss, exact = transmission_loss(ratio)
        axes.plot(frequency, exact, "k-", lw=1)
        axes.plot(frequency[::3], loss[::3], mark, ms=4, mfc="none", label=f"computed, m = {ratio}")
    axes.plot([], [], "k-", lw=1, label="exact")
    axes.set(xlabel="frequency, Hz", ylabel="transmission loss, dB", title="Expansion chamber, 0.3 m")
    axes.legend()
