"""Wall temperatures from a heat balance: what the gas gives over a cycle, the outside takes away.

For each cell of a duct with ``surroundings`` (temperature Ts and coefficient U on the duct's inner
area; thin wall, no conduction along it, so thick castings are better given a temperature):

    Q/(A tau) + U (Tw - Ts) = 0,    Q: heat from the wall to the gas in a cycle of length tau

Tw is moved after each cycle by a secant step on the residual, cell by cell, until the residual is
below SETTLED or SHARE; the wall's own heat capacity plays no part in the periodic state. Where a cell's wall
has surroundings along a share of it and a given temperature along the rest, the gas meets the mean
of both, and Q/A counts as the same for both.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.flow.network.items import DuctLayout, along

if TYPE_CHECKING:
    from aircolumn.flow.network.run import Run

SETTLED, SHARE = 0.5, 0.005  # K; of the difference to what is around, which is that of the heat
KEPT = 512  # ducts that were looked at
# dr/dTw = -(1 + h/U), h: mean coefficient on the gas side. The first guess of h is on the safe
# side (moves that fall short). Slopes found are averaged with those before, as the gas too is still
# changing; small moves say nothing.
FIRST, MOST = 300.0, 1000.0  # W/(m2 K)
LEAST_MOVE = 1.0  # K


@lru_cache(maxsize=KEPT)
def _followed(layout: DuctLayout) -> np.ndarray:
    """Rows: cells of a duct whose wall follows (counted from its first), the share of it that does, its
    coefficient and the temperature around it there, and what the rest adds to the cell's wall
    temperature."""
    wall = layout.wall
    coefficient = layout.cell_means(wall.coefficient)

    def cooled(x: np.ndarray) -> np.ndarray:
        return np.asarray(along(wall.coefficient, x) > 0.0, dtype=float)

    share = layout.cell_means(cooled)
    outside = layout.cell_means(lambda x: cooled(x) * along(wall.outside, x))
    held = layout.cell_means(lambda x: (1.0 - cooled(x)) * along(wall.temperature, x))
    c = np.flatnonzero(share)
    return np.array([c, share[c], coefficient[c] / share[c], outside[c] / share[c], held[c]])


class WallBalance:
    """The walls of a run that follow a heat balance."""

    def __init__(self, run: Run) -> None:
        self.run = run
        ducts = [(duct.inside, _followed(duct.declared.layout)) for duct in run.ducts.values()]
        self.cells = np.concatenate([inside[rows[0].astype(int)] for inside, rows in ducts])
        self.share, self.coefficient, self.outside, self.held = np.concatenate(
            [rows[1:] for _, rows in ducts], axis=1
        )
        self.heat = run.blocks.duct_heat[self.cells].copy()
        self.slope = -1.0 - FIRST / self.coefficient
        self.last: tuple[np.ndarray, np.ndarray] | None = None
        self.residual, self.lifted = np.zeros(self.cells.size), np.zeros(self.cells.size)

    def follow(self, period: float) -> None:
        """Move the walls after a cycle of ``period`` seconds."""
        if self.cells.size == 0:
            return
        heat = self.run.blocks.duct_heat[self.cells]
        gained, self.heat = heat - self.heat, heat.copy()
        mesh, c = self.run.mesh, self.cells
        area = 4.0 * mesh.area_mid[c] / mesh.diameter[c] * mesh.dx[c]  # perimeter times length
        wall = (mesh.wall[c] - self.held) / self.share
        self.lifted = np.abs(wall - self.outside)
        self.residual = self.outside - gained / (area * period * self.coefficient) - wall
        if self.last is not None:
            moved = wall - self.last[0]
            with np.errstate(divide="ignore", invalid="ignore"):
                slope = (self.residual - self.last[1]) / moved
            known = np.abs(moved) > LEAST_MOVE
            slope = 0.5 * (self.slope + np.clip(slope, -1.0 - MOST / self.coefficient, -1.0))
            self.slope[known] = slope[known]
        self.last = wall.copy(), self.residual.copy()
        mesh.wall[c] = self.held + self.share * (wall - self.residual / self.slope)

    @property
    def temperatures(self) -> np.ndarray:
        """Of the cells whose wall follows, K."""
        return self.run.mesh.wall[self.cells]

    def put(self, temperatures: np.ndarray) -> None:
        """Begin with these walls."""
        self.run.mesh.wall[self.cells] = temperatures

    @property
    def settled(self) -> bool:
        """Whether every wall is in balance."""
        return bool(np.all(np.abs(self.residual) < np.maximum(SETTLED, SHARE * self.lifted)))
