"""Everything of a run that is summed over time or held in it, at one moment: what cycles are
compared and accounted by."""

from dataclasses import dataclass

import numpy as np

from aircolumn.flow.arrays.ends import RESERVOIR
from aircolumn.flow.network.run import Run


@dataclass(frozen=True)
class Snapshot:
    """A moment of a run.

    duct_mass kg, duct_energy J: held in all ducts. contents: volume to mass, energy, fuel, burned
    (kg, J), of a reservoir what has flowed into it; reservoirs: their names. ends: mass, energy,
    fuel, burned that left through each end; echo: the same, of the cylinders that are not computed.
    plenum: what it holds, as contents (all of a log); zeros where it is open air.
    vessel_heat, duct_heat: J, to vessels' walls and from ducts' walls. pressures: of all nodes, Pa.

    One value a cylinder: work, pumping (p dV of the exhaust and intake strokes), wall_heat J;
    burned_fuel, injected kg, injected_energy J; crevice_mass kg, crevice_energy J: held in the crevices;
    charge_fuel, trapped_mass, trapped_air kg; residual: burned
    share of the charge; charge_temperature K; peak_pressure Pa.
    """

    duct_mass: float
    duct_energy: float
    contents: dict[str, np.ndarray]
    reservoirs: frozenset[str]
    plenum: np.ndarray
    ends: np.ndarray
    echo: np.ndarray
    vessel_heat: float
    duct_heat: float
    pressures: np.ndarray
    work: np.ndarray
    pumping: np.ndarray
    wall_heat: np.ndarray
    burned_fuel: np.ndarray
    injected: np.ndarray
    injected_energy: np.ndarray
    crevice_mass: np.ndarray
    crevice_energy: np.ndarray
    charge_fuel: np.ndarray
    trapped_mass: np.ndarray
    trapped_air: np.ndarray
    residual: np.ndarray
    charge_temperature: np.ndarray
    peak_pressure: np.ndarray


_PER_CYLINDER = (
    "work",
    "pumping",
    "wall_heat",
    "burned_fuel",
    "injected",
    "injected_energy",
    "crevice_mass",
    "crevice_energy",
    "charge_fuel",
    "trapped_mass",
    "trapped_air",
    "peak_pressure",
)


def stored(before: Snapshot, after: Snapshot, field: str) -> float:
    """What ducts, vessels and cylinders gained: kg ("mass") or J ("energy")."""
    q = {"mass": 0, "energy": 1}[field]
    ducts = getattr(after, f"duct_{field}") - getattr(before, f"duct_{field}")
    ducts += float(np.sum(getattr(after, f"crevice_{field}") - getattr(before, f"crevice_{field}")))
    return ducts + sum(
        c[q] - before.contents[v][q] for v, c in after.contents.items() if v not in after.reservoirs
    )


def plenum_contents(run: Run) -> np.ndarray:
    """Mass, energy, fuel, burned in the plenum, kg and J; zeros where it is open air."""
    net = run.network
    if net.PLENUM in net.volumes:
        if net.volumes[net.PLENUM].kind == RESERVOIR:
            return np.zeros(4)
        return run.blocks.volumes[0, run.volume(net.PLENUM), :4].copy()
    held = [run.held(d) for d in net.logs]
    return np.array([sum(getattr(h, q) for h in held) for q in ("mass", "energy", "fuel", "burned")])


def snapshot(run: Run) -> Snapshot:
    """The run as it is now."""
    chambers, blocks, network = run.chambers, run.blocks, run.network
    cells, inside = run.cells, run.cell_places
    length = run.mesh.dx[inside]
    volumes = list(network.volumes)
    return Snapshot(
        duct_mass=float(cells.mass[inside] @ length),
        duct_energy=float(cells.energy[inside] @ length),
        contents={name: blocks.volumes[0, b, :4].copy() for b, name in enumerate(volumes)},
        plenum=plenum_contents(run),
        reservoirs=frozenset(v for v in volumes if network.volumes[v].kind == RESERVOIR),
        ends=blocks.tally_ends.copy(),
        echo=blocks.tally_echo.copy(),
        vessel_heat=float(blocks.vessel_heat.sum()),
        duct_heat=float(blocks.duct_heat[inside].sum()),
        pressures=run.nodes.p[run.node_places],
        residual=chambers.trapped_burned / np.maximum(chambers.trapped_mass, 1e-300),
        charge_temperature=chambers.ivc_t.copy(),
        **{name: getattr(chambers, name).copy() for name in _PER_CYLINDER},
    )
