"""What the engine draws from, over a cycle: mean pressure and density of fresh air in the plenum.

A volume has one state. A log is recorded at the beginning, middle and end of each of its pieces;
its density is that of its volume (Simpson's rule over each piece, by its areas), its pressure the
mean of where runners join.
"""

from dataclasses import dataclass

import numpy as np

from aircolumn.engine.model.inlet_mach import highest_mach, mach_probes
from aircolumn.flow.gas.kernels import gas_constant
from aircolumn.flow.network.record import Record
from aircolumn.flow.network.run import Run


@dataclass(frozen=True)
class PlenumMean:
    """Means over time: pressure Pa, density of fresh air kg/m3, temperature K of the gas there (of its mean
    pressure and density); and the highest Mach number ahead of it."""

    pressure: float
    air_density: float
    temperature: float
    inlet_mach: float = 0.0


def mean_of_cycles(means: list[PlenumMean]) -> PlenumMean:
    """The mean of several cycles, and the highest Mach number of all."""
    return PlenumMean(
        float(np.mean([m.pressure for m in means])),
        float(np.mean([m.air_density for m in means])),
        float(np.mean([m.temperature for m in means])),
        max(m.inlet_mach for m in means),
    )


def probes_for(run: Run) -> dict[str, tuple[str, float | str] | int]:
    """What must be recorded of a log, and ahead of it; nothing of a volume."""
    return mach_probes(run) | {
        f"{name}, {place}": (name, at)
        for name in run.network.logs
        for place, at in (
            ("beginning", 0.0),
            ("middle", 0.5 * run.ducts[name].node_positions[-1]),
            ("end", "right"),
        )
    }


def plenum_mean(run: Run, record: Record) -> PlenumMean:
    """Over the time of ``record``, which has probes_for(run)."""
    net = run.network
    if net.PLENUM in net.volumes:
        v, held = run.volume(net.PLENUM), record.volumes[net.PLENUM]
        fresh = 1.0 - float(run.states.yf[v] + run.states.yb[v])
        density = _mean(record.time, held.mass) / float(run.states.volume[v])
        pressure = _mean(record.time, held.p)
        temperature = pressure / (density * gas_constant(run.network.gas, run.states.yf[v], run.states.yb[v]))
        return PlenumMean(pressure, fresh * density, temperature, highest_mach(run, record))
    mouths = [record.probes[f"{name}, end"].p for name in net.logs[:-1]]
    mass = volume = weight_of_gas = 0.0
    for name in net.logs:
        shape = net.ducts[name].shape
        for place, share, weight in (("beginning", 0.0, 1.0), ("middle", 0.5, 4.0), ("end", 1.0, 1.0)):
            probe = record.probes[f"{name}, {place}"]
            part = weight * float(shape.area(share * shape.length)) * shape.length / 6.0
            mass += part * _mean(record.time, probe.rho * (1.0 - probe.fuel - probe.burned))
            constant = gas_constant(run.network.gas, probe.fuel, probe.burned)
            weight_of_gas += part * _mean(record.time, probe.rho * constant)
            volume += part
    pressure = _mean(record.time, np.mean(mouths, axis=0))
    return PlenumMean(pressure, mass / volume, pressure * volume / weight_of_gas, highest_mach(run, record))


def _mean(time: np.ndarray, values: np.ndarray) -> float:
    """Over time, by trapezoids."""
    return float(np.sum(np.diff(time) * 0.5 * (values[1:] + values[:-1])) / (time[-1] - time[0]))
