"""Ends, valves, volumes, cylinders, orifices and echoes of a network as tables for the march."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.flow.arrays import ends as ea
from aircolumn.flow.arrays.cylinders import Chambers, Cranks
from aircolumn.flow.arrays.ends import EndLinks, EndValues, VolumeLinks, VolumeValues
from aircolumn.flow.compiled.lookup import TABLE_STEPS
from aircolumn.flow.ends.echo import BINS, WAVES
from aircolumn.flow.ends.junction import opposite, turning
from aircolumn.flow.network.items import End
from aircolumn.flow.network.placement import PlacedDuct

if TYPE_CHECKING:
    from aircolumn.flow.network.items import Cylinder
    from aircolumn.flow.network.network import Network


def end_tables(network: Network, ducts: dict[str, PlacedDuct]) -> tuple[np.ndarray, np.ndarray]:
    """Links and values of all ends: those declared, then both sides of each sudden change."""
    table = [_declared_end(network, ducts[name], side, end) for (name, side), end in network.ends.items()]
    for duct in ducts.values():
        for k, change in enumerate(duct.declared.changes):
            table += _change_ends(duct, k, change, len(table))
    links = np.array([link for link, _ in table], dtype=np.int64).T.copy()
    values = np.array([value for _, value in table]).T.copy()
    link, value = EndLinks(*links), EndValues(*values)
    link.partner[:] = np.where(link.partner < 0, np.arange(len(table)), link.partner)
    link.opposite[:] = opposite(link.kind, value.loss, value.angle, link.partner)
    return links, values


def turning_table(links: np.ndarray, values: np.ndarray, area: np.ndarray) -> np.ndarray:
    """What streams mean for the legs of junctions (ends/junction.py: turning)."""
    link, value = EndLinks(*links), EndValues(*values)
    return turning(link.kind, value.loss, value.angle, area[link.node], link.partner)


def _declared_end(network: Network, duct: PlacedDuct, side: str, end: End) -> tuple[EndLinks, list[float]]:
    link = _end_link(duct, -1 if side == "right" else 0, side)._replace(
        kind=end.kind, to_volume=int(end.volume is not None), valve=end.valve, signal=end.signal
    )
    if end.volume is not None:
        link = link._replace(volume=volume_index(network, end.volume))
    if end.partner is not None:
        link = link._replace(partner=list(network.ends).index(end.partner))
    return link, _end_values(end)


def _end_values(end: End) -> list[float]:
    return [getattr(end, name) for name in EndValues._fields]


def _change_ends(duct: PlacedDuct, k: int, change: Any, count: Any) -> Any:
    """Both sides of sudden change ``k`` of a duct; ``count``: ends before them."""
    both = []
    for reach, side, loss, partner in (
        (k, "right", change.loss_forward, count + 1),
        (k + 1, "left", change.loss_back, count),
    ):
        link = _end_link(duct, reach, side)._replace(kind=ea.STEP, partner=partner)
        end = End(ea.STEP, throat=change.throat, loss=loss, inertance=change.inertance)
        both.append((link, _end_values(end)))
    return both


def _end_link(duct: PlacedDuct, reach: int, side: str) -> EndLinks:
    """Where the end of a duct's reach lies."""
    first, cells = duct.firsts[reach], duct.declared.reaches[reach].cells
    at_right = side == "right"
    return EndLinks(
        kind=-1,
        node=first + (cells if at_right else 0),
        cell=first + (cells - 1 if at_right else 0),
        side=1 if at_right else -1,
        volume=-1,
        partner=-1,  # none
        to_volume=0,
        valve=-1,
        signal=-1,
        opposite=-1,
    )


def volume_index(network: Network, name: Any) -> int:
    """Where a volume stands in the tables. ValueError if there is none of that name."""
    if name not in network.volumes:
        raise ValueError(f"there is no volume {name!r}")
    return list(network.volumes).index(name)


def area_tables(network: Network) -> dict:
    """Blocks of the area tables."""
    tables = network.valves or [(np.zeros(TABLE_STEPS + 1),) * 2 + (0.0,)]
    return {
        "valve_into_cylinder": np.array([t[0] for t in tables]),
        "valve_out_of_cylinder": np.array([t[1] for t in tables]),
        "valve_offset": np.array([t[2] for t in tables], dtype=float),
    }


def signal_tables(network: Network) -> dict:
    """Blocks of the signals over time, filled up to one length."""
    signals = network.signals or [(np.zeros(1), np.zeros(1), 0.0)]
    longest = max(time.size for time, _, _ in signals)

    def filled(values: np.ndarray) -> np.ndarray:
        return np.pad(values, (0, longest - values.size), mode="edge")

    return {
        "signal_time": np.array([filled(time) for time, _, _ in signals]),
        "signal_value": np.array([filled(values) for _, values, _ in signals]),
        "signal_period": np.array([period for _, _, period in signals]),
    }


def volume_tables(network: Network) -> dict:
    """Blocks of the volumes' kinds and walls."""
    table = network.volumes.values()
    return {
        "volume_links": np.array(
            [[getattr(v, f) for v in table] for f in VolumeLinks._fields], dtype=np.int64
        ),
        "volume_values": np.array(
            [[getattr(v, f) for v in table] for f in VolumeValues._fields], dtype=float
        ),
    }


def cylinder_tables(network: Network) -> dict:
    """Blocks of cranks, chambers and burn tables."""
    table = network.cylinders
    burn = [c.burn_table for c in table] or [np.zeros(TABLE_STEPS + 1)]
    cranks = [[getattr(c, f) for c in table] for f in Cranks._fields]
    chambers = [[_chamber_value(c, f) for c in table] for f in Chambers._fields]
    chambers[Chambers._fields.index("injector_end")] = _injector_ends(network)
    return {
        "cranks": np.array(cranks, dtype=float),
        "chambers": np.array(chambers, dtype=float),
        "burn_table": np.array(burn),
    }


#: Of Chambers: what the march keeps account of, and where it begins.
_START = {**dict.fromkeys(Chambers._fields, 0.0), "burn_stretch": 1.0}


def _chamber_value(cylinder: Cylinder, name: str) -> float:
    return getattr(cylinder, name, _START[name])


def _injector_ends(network: Network) -> list[float]:
    """The end on which each cylinder's port fuel is metered (0 where there is none)."""
    found = [0.0] * len(network.cylinders)
    for k, end in enumerate(network.ends.values()):
        if end.injector:
            found[network.volumes[end.volume or ""].cylinder] = float(k)
    return found


def echo_tables(network: Network) -> dict:
    """Blocks of the cylinders that are not computed."""
    echo = network.echoes
    links, length = np.zeros(3, dtype=np.int64), np.zeros(1)
    if echo is not None:
        name, _ = echo.end
        length[0] = network.ducts[name].shape.length
        volume = volume_index(network, network.ends[echo.end].volume)
        links[:] = list(network.ends).index(echo.end), volume, network.ends[name, "right"].valve
    phases = np.array([] if echo is None else echo.phases, dtype=float)
    return {
        "echo_links": links,
        "echo_length": length,
        "echo_phases": phases,
        "echo_flow": np.zeros((WAVES + phases.size, BINS)),
        "tally_echo": np.zeros(4),
    }


def orifice_tables(network: Network) -> dict:
    """Blocks of the orifices between volumes."""
    table = network.orifices
    links = [[volume_index(network, o[i]) for o in table] for i in (0, 1)]
    return {
        "orifice_links": np.array(links, dtype=np.int64),
        "orifice_area": np.array([o[2] for o in table], dtype=float),
    }
