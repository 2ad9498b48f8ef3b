"""A pipe shut at one end rings at a quarter of the sound speed over its length."""

import numpy as np

from aircolumn import GasState, Network, perfect_gas, straight

net = Network(perfect_gas())
net.duct("pipe", straight(0.5, 0.04), 60, GasState(pressure=1.02e5, temperature=300.0))
net.reservoir("air", pressure=1e5, temperature=300.0)
net.closed("pipe", "left")
net.opening("pipe", "right", "air")
record = net.ready().march(0.03, probes={"wall": ("pipe", 0.0)})
swing = record.probes["wall"].p - 1e5
rises = record.time[1:][np.diff(np.signbit(swing)) != 0]
print(f"{0.5 / np.diff(rises).mean():.1f} Hz, c / 4L = {347.2 / 4 / 0.5:.1f} Hz")
