"""What a march recorded: time and crank angle, probes and volumes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.flow.network.items import GasState

if TYPE_CHECKING:
    from aircolumn.flow.network.items import Volume


@dataclass(frozen=True)
class ProbeRecord:
    """A node over time: density kg/m3, velocity m/s, pressure Pa, sound speed m/s, mass fractions
    of fuel vapour and burned gas; x: its distance from the left end of the duct, m."""

    rho: np.ndarray
    u: np.ndarray
    p: np.ndarray
    a: np.ndarray
    fuel: np.ndarray
    burned: np.ndarray
    x: float


@dataclass(frozen=True)
class VolumeRecord:
    """A volume over time: pressure Pa, temperature K, mass kg."""

    p: np.ndarray
    T: np.ndarray
    mass: np.ndarray


@dataclass(frozen=True)
class Record:
    """One entry a step: time s, crank angle deg; probes and volumes by name. Empty where ``march`` was not
    given probes (``probes={}`` records the volumes)."""

    time: np.ndarray
    angle: np.ndarray
    probes: dict[str, ProbeRecord]
    volumes: dict[str, VolumeRecord]


def labelled(table: np.ndarray, probes: dict[str, float], volumes: dict[str, Volume]) -> Record:
    """The rows that the compiled march wrote (march/advance.py: record_step). probes: name to x."""
    columns = list(table.T)
    at, inside, n = {}, {}, 2
    for name, x in probes.items():
        rho, u, p, a, fuel, burned = columns[n : n + 6]
        at[name] = ProbeRecord(rho, u, p, a, fuel, burned, x)
        n += 6
    for name in volumes:
        pressure, temperature, mass = columns[n : n + 3]
        inside[name] = VolumeRecord(pressure, temperature, mass)
        n += 3
    return Record(columns[0], columns[1], at, inside)


@dataclass(frozen=True)
class DuctProfile:
    """Nodes along a duct at one moment: distance x m, area m2, density kg/m3, velocity m/s,
    pressure Pa, sound speed m/s, temperature K, mass fractions of fuel vapour and burned gas."""

    x: np.ndarray
    area: np.ndarray
    rho: np.ndarray
    u: np.ndarray
    p: np.ndarray
    a: np.ndarray
    T: np.ndarray
    fuel: np.ndarray
    burned: np.ndarray

    def state(self) -> GasState:
        """The profile as a state to start from: straight lines between the nodes."""

        def line(values: Any) -> Any:
            return lambda x: np.interp(x, self.x, values)

        return GasState(line(self.p), line(self.T), line(self.u), line(self.fuel), line(self.burned))
