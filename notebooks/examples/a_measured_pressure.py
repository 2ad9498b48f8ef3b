"""A measured pressure as an end: the port's trace drives the runner, whose own trace is then predicted."""

from pathlib import Path

import numpy as np

from aircolumn import GasState, Network, Wall, end_correction, perfect_gas, straight

traces = Path(__file__).resolve().parents[2] / "configs" / "invented-traces.csv"
data = np.genfromtxt(traces, delimiter=",", skip_header=3)[:, :4].reshape(8, 720, 4)
_, _, port, runner = data.mean(axis=0).T  # of eight cycles at 4000 rpm
cycle = 0.030  # s
time = np.arange(720) * cycle / 720
mouth = end_correction("bellmouth", 0.040)  # of air in front of the mouth
net = Network(perfect_gas())
net.duct("runner", straight(0.48 + mouth, 0.040), 60, GasState(101e3, 300.0), Wall(friction=1.0))
net.reservoir("plenum", 101e3, 300.0)
net.opening("runner", "left", "plenum")
net.pressure_over_time("runner", "right", time, 101e3 + 1e3 * (port - port.mean()), 310.0, period=cycle)
record = net.ready().march(8 * cycle, probes={"here": ("runner", 0.15 + mouth)})
found = np.interp(7 * cycle + time, record.time, record.probes["here"].p) / 1e3
off = (found - found.mean()) - (runner - runner.mean())
print(f"swing {np.ptp(found):.1f} kPa, measured {np.ptp(runner):.1f} kPa; off by {off.std():.1f} kPa rms")
