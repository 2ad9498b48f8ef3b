"""Where mass and energy went in the cycles that are accounted for."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from aircolumn.engine.model.snapshot import Snapshot, stored
from aircolumn.flow.arrays.ends import CALM
from aircolumn.flow.network.run import Run

STORED = "stored in ducts, plenum and cylinders"


@dataclass(frozen=True)
class Ledger:
    """Where mass (kg) and energy (J) of the network went in the cycles accounted for."""

    mass: dict
    energy: dict

    @property
    def mass_gap(self) -> float:
        """In, less out, less the change of what is held, kg."""
        return sum(self.mass.values())

    @property
    def energy_gap(self) -> float:
        """What the energy of all cycles does not account for, J."""
        return sum(self.energy.values())


def ledger_of(run: Run, before: Snapshot, after: Snapshot) -> Ledger:
    """Balance between two snapshots; inflow and sources positive, outflow and storage negative."""
    net = run.network

    def gained(volume: Any, q: Any) -> Any:
        return after.contents[volume][q] - before.contents[volume][q]

    def change(name: str) -> Any:
        return float(np.sum(getattr(after, name) - getattr(before, name)))

    sources = [v for v in (net.AIR, net.PLENUM) if v in after.reservoirs]
    calm = [k for k, e in enumerate(net.ends.values()) if e.kind == CALM]

    def drawn(q: Any) -> Any:
        through = (after.ends - before.ends)[calm, q].sum()  # only in what-if networks
        return -float(through) - sum(gained(v, q) for v in sources)

    mass = {
        "in from the air": drawn(0),
        "to the other cylinders": after.echo[0] - before.echo[0],
        "injected fuel": change("injected"),
        "past the rings": -gained(net.CRANKCASE, 0),
        "out through the exhaust": -gained(net.OUTLET, 0),
        STORED: -stored(before, after, "mass"),
    }
    energy = {
        "in from the air": drawn(1),
        "heat released": change("burned_fuel") * float(run.chambers.heat_release[0]),
        "to the other cylinders": after.echo[1] - before.echo[1],
        "injected fuel": change("injected_energy"),
        "work on the piston": -change("work"),
        "heat to cylinder walls": -change("wall_heat"),
        "heat from duct walls": change("duct_heat"),
        "heat to the plenum wall": -change("vessel_heat"),
        "past the rings": -gained(net.CRANKCASE, 1),
        "out through the exhaust": -gained(net.OUTLET, 1),
        STORED: -stored(before, after, "energy"),
    }
    return Ledger(mass, energy)
