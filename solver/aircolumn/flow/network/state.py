"""The state of a march, to start another from that is like it.

Two marches of the same network at neighbouring speeds end their periodic cycles in neighbouring states. A
third one is started on the straight line through both, place by place: the march forgets what is left of
the guess in a cycle or two.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.flow.arrays import blocks as mb
from aircolumn.flow.arrays.ducts import Cells, Mesh, Nodes
from aircolumn.flow.arrays.ends import FUEL, VolumeStates

if TYPE_CHECKING:
    from aircolumn.flow.network.run import Run

PRIMITIVE = ("rho", "u", "p", "yf", "yb")
MOST = 0.3  # by what share of itself a positive quantity may be moved
_POSITIVE_NODES = [PRIMITIVE.index(name) for name in ("rho", "p")]
_NODES = [Nodes._fields.index(name) for name in PRIMITIVE]
_POSITIVE_CELLS = [Cells._fields.index(name) for name in ("mass", "energy")]
_VOLUME = Mesh._fields.index("volume")
_SIZE = VolumeStates._fields.index("volume")


@dataclass(frozen=True)
class State:
    """What a run holds and remembers, as arrays of its blocks (arrays/blocks.py). ducts: where each lies;
    nodes: PRIMITIVE of every node; cells, contents (volumes, 4): what they hold per m3; charge: CHARGE of
    every cylinder; relaxation of its echoes and the slow part of their answer (lag, Pa)."""

    ducts: np.ndarray
    nodes: np.ndarray
    cells: np.ndarray
    layer: np.ndarray
    contents: np.ndarray
    volumes: np.ndarray
    echo_flow: np.ndarray
    charge: np.ndarray
    relaxation: float
    lag: float

    def fits(self, other: State) -> bool:
        """Whether both are of the same mesh: the same numbers of cells in the same places."""
        alike = all(
            np.shape(getattr(self, f.name)) == np.shape(getattr(other, f.name)) for f in fields(State)
        )
        return alike and np.array_equal(self.ducts, other.ducts)

    @classmethod
    def of(cls, run: Run) -> State:
        """The state that ``run`` is in."""
        b = run.blocks
        return cls(
            ducts=b.ducts,
            nodes=b.nodes[int(b.clock[mb.NOW])][_NODES],
            cells=b.cells / b.mesh[_VOLUME],
            layer=b.layer.copy(),
            contents=b.volumes[0, :, : FUEL + 2] / b.states[_SIZE, :, None],
            volumes=b.states.copy(),
            echo_flow=b.echo_flow.copy(),
            charge=run.charge,
            relaxation=float(b.clock[mb.RELAXATION]),
            lag=float(b.clock[mb.LAG]),
        )

    def into(self, run: Run) -> None:
        """Let ``run``, of the same mesh, go on from here."""
        b = run.blocks
        b.nodes[:, _NODES] = self.nodes
        b.cells[:] = self.cells * b.mesh[_VOLUME]
        b.layer[:] = self.layer
        held = b.volumes[0, :, 0] > 0.0  # reservoirs keep the state they are given at this speed
        b.volumes[0, held, : FUEL + 2] = (self.contents * b.states[_SIZE, :, None])[held]
        others = [row for row in range(len(b.states)) if row != _SIZE]
        b.states[np.ix_(others, held)] = self.volumes[np.ix_(others, held)]
        run.go_on(self.echo_flow, self.charge, self.relaxation, self.lag)


def on_line(near: State, far: State, share: float) -> State:
    """near + share (near - far). Positive quantities keep within MOST of those of ``near``, shares of fuel
    and burned gas within what there is."""

    def moved(name: str) -> Any:
        a = getattr(near, name)
        return a + share * (a - getattr(far, name))

    nodes, cells, contents, charge = moved("nodes"), moved("cells"), moved("contents"), moved("charge")
    _keep_near(nodes, near.nodes, _POSITIVE_NODES)
    _keep_near(cells, near.cells, _POSITIVE_CELLS)
    _keep_near(contents.T, near.contents.T, [0, 1])
    np.clip(nodes[3:], 0.0, 1.0, out=nodes[3:])
    np.clip(cells[3:], 0.0, cells[0], out=cells[3:])
    np.clip(contents[:, 2:], 0.0, contents[:, :1], out=contents[:, 2:])
    return State(
        ducts=near.ducts,
        nodes=nodes,
        cells=cells,
        layer=moved("layer"),
        contents=contents,
        volumes=near.volumes,
        echo_flow=moved("echo_flow"),
        charge=np.where(near.charge * charge < 0.0, near.charge, charge),
        relaxation=near.relaxation,
        lag=moved("lag"),
    )


def _keep_near(values: np.ndarray, near: np.ndarray, rows: list[int]) -> None:
    for k in rows:
        np.clip(values[k], (1.0 - MOST) * near[k], (1.0 + MOST) * near[k], out=values[k])
