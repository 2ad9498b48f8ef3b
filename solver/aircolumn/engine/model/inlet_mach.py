"""The highest Mach number between the open air and the plenum over a cycle, such as in a restrictor's throat.

It is looked for at every step, at the narrowest place of each duct and next to it on both sides: where a
throat chokes, the flow is faster than sound just behind it.
"""

from __future__ import annotations

import numpy as np

from aircolumn.flow.network.record import Record
from aircolumn.flow.network.run import Run

BESIDE = 2  # nodes on either side


def mach_probes(run: Run) -> dict[str, int]:
    """Places of nodes to be recorded, by names of their own; none without a duct ahead of the plenum."""
    places: dict[str, int] = {}
    for name, duct in run.ducts.items():
        if run.network.is_inlet(name):
            k = int(np.argmin(duct.node_areas))
            near = duct.nodes[max(k - BESIDE, 0) : k + BESIDE + 1]
            places |= {f"{name}, near its narrowest {i}": int(node) for i, node in enumerate(near)}
    return places


def highest_mach(run: Run, record: Record) -> float:
    """Of a record that has mach_probes(run); 0 without a duct."""
    seen = [record.probes[name] for name in mach_probes(run)]
    return max((float(np.max(np.abs(at.u / at.a))) for at in seen), default=0.0)
