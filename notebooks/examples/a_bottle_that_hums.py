"""A bottle with a neck: the Helmholtz resonator, beside k L tan(k L) = A L / V of its neck."""

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, perfect_gas, straight

G, R, T, P = 1.4, 287.05, 300.0, 1e5
VOLUME, LENGTH, BORE = 2e-3, 0.2, 0.03
net = Network(perfect_gas(G, R))
net.duct("neck", straight(LENGTH, BORE), 40, GasState(P, T))
net.vessel("bottle", VOLUME, 1.005 * P, T * 1.005 ** ((G - 1) / G))
net.reservoir("air", P, T)
net.opening("neck", "left", "bottle")
net.opening("neck", "right", "air")
record = net.ready().march(0.08, probes={})
swing = record.volumes["bottle"].p - P
rises = record.time[1:][np.diff(np.signbit(swing)) != 0]
ratio = np.pi / 4 * BORE**2 * LENGTH / VOLUME
k = brentq(lambda kl: kl * np.tan(kl) - ratio, 1e-3, 1.5) / LENGTH
print(f"{0.5 / np.diff(rises).mean():.2f} Hz, exact {k * np.sqrt(G * R * T) / (2 * np.pi):.2f} Hz")
