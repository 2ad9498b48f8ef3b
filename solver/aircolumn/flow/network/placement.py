"""Where each duct lies in the arrays of a network (arrays/ducts.py)."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from aircolumn.flow.arrays.ducts import VECTOR
from aircolumn.flow.network.items import Duct


@dataclass(frozen=True)
class PlacedDuct:
    """A declared duct and the place of the first node of each of its reaches."""

    declared: Duct
    firsts: tuple[int, ...]

    @property
    def pieces(self) -> list[tuple]:
        """(first place, reach) from left to right."""
        return list(zip(self.firsts, self.declared.reaches, strict=True))

    @cached_property
    def cells(self) -> int:
        """Number of cells."""
        return sum(r.cells for r in self.declared.reaches)

    @cached_property
    def nodes(self) -> np.ndarray:
        """Places of the duct's nodes; a sudden change has two."""
        return np.concatenate([f + np.arange(r.cells + 1) for f, r in self.pieces])

    @cached_property
    def inside(self) -> np.ndarray:
        """Places of the duct's cells."""
        return np.concatenate([f + np.arange(r.cells) for f, r in self.pieces])

    @cached_property
    def node_positions(self) -> np.ndarray:
        """Distances of the nodes from the left end, m."""
        return np.concatenate([r.start + r.edges for _, r in self.pieces])

    @cached_property
    def middles(self) -> np.ndarray:
        """Distances of the cells' middles from the left end, m."""
        return np.concatenate([r.start + 0.5 * (r.edges[1:] + r.edges[:-1]) for _, r in self.pieces])

    @cached_property
    def node_areas(self) -> np.ndarray:
        """Flow areas at the nodes, m2."""
        return np.concatenate([r.shape.area(r.edges) for _, r in self.pieces])


def placed(ducts: dict[str, Duct]) -> tuple[dict[str, PlacedDuct], int]:
    """(every duct with its place, number of places in all)."""
    first, found = 1, {}
    for name, duct in ducts.items():
        firsts = []
        for reach in duct.reaches:
            firsts.append(first)
            first += reach.cells + 2
        found[name] = PlacedDuct(duct, tuple(firsts))
    # Loops run from 1 to places - 2: padded so that no odd places are left over for the slow
    # scalar end of a vector loop.
    return found, -(-(first - 1) // VECTOR) * VECTOR + 2


def reach_table(ducts: dict[str, PlacedDuct]) -> np.ndarray:
    """First place and number of cells of every reach, (2, reaches)."""
    reaches = [(f, r.cells) for d in ducts.values() for f, r in d.pieces]
    return np.array(reaches, dtype=np.int64).T.copy()
