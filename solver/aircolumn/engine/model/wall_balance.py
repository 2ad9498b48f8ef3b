"""Wall temperatures from a heat balance: what the gas gives over a cycle, the outside takes away.

For each cell of a duct with ``surroundings`` (temperature Ts and coefficient U on the duct's inner
area; thin wall, no conduction along it, so thick castings are better given a temperature):

    Q/(A tau) + U (Tw - Ts) = 0,    Q: heat from the wall to the gas in a cycle of length tau

Tw is moved after each cycle by a secant step on the residual, cell by cell, until the residual is
below SETTLED; the wall's own heat capacity plays no part in the periodic state.
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from aircolumn.flow.network.run import Run

SETTLED = 0.5  # K
# dr/dTw = -(1 + h/U), h: mean coefficient on the gas side. The first guess of h is on the safe
# side (moves that fall short). Slopes found are averaged with those before, as the gas too is still
# changing; small moves say nothing.
FIRST, MOST = 300.0, 1000.0  # W/(m2 K)
LEAST_MOVE = 1.0  # K


class WallBalance:
    """The walls of a run that follow a heat balance."""

    def __init__(self, run: Run) -> None:
        self.run = run
        inside = np.zeros(run.mesh.dx.size, dtype=bool)
        self.outside, self.coefficient = np.zeros((2, inside.size))
        for duct in run.ducts.values():
            wall = duct.declared.wall
            self.coefficient[duct.inside] = duct.cell_means(wall.coefficient)
            self.outside[duct.inside] = duct.cell_means(wall.outside)
        self.cells = np.flatnonzero(self.coefficient > 0.0)
        self.heat = run.blocks.duct_heat[self.cells].copy()
        self.slope = -1.0 - FIRST / self.coefficient[self.cells]
        self.last: tuple[np.ndarray, np.ndarray] | None = None
        self.residual = np.zeros(self.cells.size)

    def follow(self, period: float) -> None:
        """Move the walls after a cycle of ``period`` seconds."""
        if self.cells.size == 0:
            return
        heat = self.run.blocks.duct_heat[self.cells]
        gained, self.heat = heat - self.heat, heat.copy()
        mesh, c = self.run.mesh, self.cells
        area = pi * mesh.diameter[c] * mesh.dx[c]
        wall = mesh.wall[c]
        self.residual = self.outside[c] - gained / (area * period * self.coefficient[c]) - wall
        if self.last is not None:
            moved = wall - self.last[0]
            with np.errstate(divide="ignore", invalid="ignore"):
                slope = (self.residual - self.last[1]) / moved
            known = np.abs(moved) > LEAST_MOVE
            slope = 0.5 * (self.slope + np.clip(slope, -1.0 - MOST / self.coefficient[c], -1.0))
            self.slope[known] = slope[known]
        self.last = wall.copy(), self.residual.copy()
        mesh.wall[c] = wall - self.residual / self.slope

    @property
    def settled(self) -> bool:
        """Whether every wall is in balance."""
        return bool(np.all(np.abs(self.residual) < SETTLED))
