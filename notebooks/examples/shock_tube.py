"""A shock tube, 10 to 1, beside the exact solution (Toro, Riemann Solvers, chapter 4)."""

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, perfect_gas, straight

G, R, HIGH, LOW, T = 1.4, 287.05, 1e6, 1e5, 300.0
net = Network(perfect_gas(G, R))
net.duct("tube", straight(1.0, 0.05), 400, GasState(lambda x: np.where(x < 0.5, HIGH, LOW), T))
net.closed("tube", "left")
net.closed("tube", "right")
run = net.ready()
run.march(6e-4)
profile = run.profile("tube")
sound = np.sqrt(G * R * T)
fan = lambda p: 2 * sound / (G - 1) * (1 - (p / HIGH) ** ((G - 1) / (2 * G)))  # noqa: E731
shock = lambda p: sound / G * (p / LOW - 1) / np.sqrt((G + 1) / (2 * G) * (p / LOW - 1) + 1)  # noqa: E731
p = brentq(lambda p: fan(p) - shock(p), LOW, HIGH)
print(f"p {np.interp(0.6, profile.x, profile.p):.0f} Pa, exact {p:.0f} Pa")
print(f"u {np.interp(0.6, profile.x, profile.u):.1f} m/s, exact {fan(p):.1f} m/s")
