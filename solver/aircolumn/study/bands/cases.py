"""Engines that the one of a file may be: every candidate in each, with what is unknown drawn alike.

What is not known for sure (engine/uncertain) is drawn from its distribution by a scrambled Sobol sequence
(Owen 1998, J. Complexity 14; scipy.stats.qmc). All candidates of a case share the draw, so that what is
unknown about the engine drops out of their differences (common random numbers: Law, Simulation Modeling
and Analysis, ch. 11, from memory). A longer run begins with the cases of a shorter one.

What a fit to measured pulls has found (section ``fitted``) is drawn from its joint normal distribution.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import block_diag
from scipy.special import ndtri
from scipy.stats import qmc

from aircolumn.engine.description.fitted import FITTED
from aircolumn.engine.description.reader import described
from aircolumn.engine.description.spread import si_half_width
from aircolumn.engine.uncertain.alternatives import K, OneOf
from aircolumn.engine.uncertain.inputs import all_unsure
from aircolumn.engine.uncertain.unsure import ABOVE, Unsure, evenly
from aircolumn.errors import InputError
from aircolumn.measured.calibration import UNKNOWNS, with_values

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description

EDGE = 1e-9  # of the unit interval: normal numbers beyond are not drawn
BLOCK, MOVES, MOVE = 48, 60, 0.05  # cases whose columns are moved apart together, by how many steps


@dataclass(frozen=True)
class Cases:
    """All that is unsure about the engine of a file. unsure: what the file states or leaves out, of any
    candidate; what a fit found follows it, in the order of ``fitted``. rows: {candidate: [(number in a case,
    what it is there)]}."""

    description: Description
    unsure: tuple[Unsure, ...]
    rows: dict[str, list[tuple[int, Unsure]]] = field(default_factory=dict)

    @classmethod
    def of(cls, description: Description) -> Cases:
        """Those of a file."""
        every = {name: all_unsure(one) for name, one in description.candidates.items()}
        unsure = {row.one: row for rows in every.values() for row in rows}
        number = {name: k for k, name in enumerate(unsure)}
        rows = {name: [(number[row.one], row) for row in found] for name, found in every.items()}
        return cls(description, tuple(unsure.values()), rows)

    @cached_property
    def fitted(self) -> dict[str, tuple[float, float]]:
        """What a fit found: {name: (value, standard deviation)}, SI."""
        found, source = self.description.fitted, self.description.source
        values = {} if found is None else found.values
        data = source.data.get(FITTED, {})
        wide = {n: si_half_width(data[n], v, source.spreads[FITTED, n]) for n, v in values.items()}
        return {n: (v, wide[n] / K) for n, v in values.items()}

    @property
    def names(self) -> list[str]:
        """What each number of a case is about."""
        return [row.key for row in self.unsure] + [f"{FITTED}.{name}" for name in self.fitted]

    @property
    def settle(self) -> list[str]:
        """What would settle each, in words."""
        return [row.settle for row in self.unsure] + [UNKNOWNS[name].measure for name in self.fitted]

    @cached_property
    def correlation(self) -> np.ndarray:
        """Between the numbers of a case."""
        found = self.description.fitted
        return block_diag(np.eye(len(self.unsure)), np.eye(0) if found is None else found.matrix)

    def drawn(self, count: int, seed: int = 0) -> np.ndarray:
        """Standard normal numbers (count, names) of so many cases."""
        if not self.names:
            return np.zeros((count, 0))
        sobol = qmc.Sobol(len(self.names), rng=np.random.default_rng(seed))
        blocks = -(-count // BLOCK)
        shares = sobol.random_base2(int(np.ceil(np.log2(blocks * BLOCK))))[: blocks * BLOCK]
        numbers = ndtri(np.clip(shares, EDGE, 1.0 - EDGE))
        apart = [unrelated(block) for block in np.split(numbers, blocks)]  # so that a longer run goes on
        independent = np.concatenate(apart)[:count]
        values, vectors = np.linalg.eigh(self.correlation)
        return independent @ (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T

    def features(self, z: np.ndarray) -> np.ndarray:
        """What results may go with in a straight line: the numbers of the cases, their size where a thing
        can only be more, whether it is as the file stands where it is one of several; of mean 0 and
        variance 1."""
        columns = z.copy()
        for k, row in enumerate(self.unsure):
            if row.way == ABOVE:
                columns[:, k] = np.sqrt(12.0) * (evenly(z[:, k]) - 0.5)
            elif isinstance(row.change, OneOf):  # whether it is as the file stands
                share = row.change.choices[0].share
                stands = np.array([row.change.number(float(one)) == 0 for one in z[:, k]])
                columns[:, k] = (stands - share) / np.sqrt(share * (1.0 - share))
        return columns

    def engines(self, z: np.ndarray) -> dict[str, Engine] | str:
        """Every candidate's engine in one case; what is wrong where no such engine can be."""
        engines = {}
        for name, one in self.description.candidates.items():
            engine = self.engine(one.data, self.rows[name], z)
            if isinstance(engine, str):
                return engine
            engines[name] = engine
        return engines

    def engine(self, data: dict, rows: Sequence[tuple[int, Unsure]], z: np.ndarray) -> Engine | str:
        """The engine of a file's ``data`` in one case, ``rows`` being what is unsure about it; what is wrong
        where no such engine can be."""
        for k, row in rows:
            data = row.apply(data, float(z[k]))
        try:
            engine = described(self.description.source.with_data(data)).engine
        except InputError as error:
            return "; ".join(f"{p.key}: {p.message}" for p in error.problems)
        return with_values(engine, self._fitted_values(z[len(self.unsure) :]))

    def _fitted_values(self, z: np.ndarray) -> dict[str, float]:
        """By how much what was fitted is off in one case; its values are in the file already."""
        off = {}
        for (name, (value, deviation)), number in zip(self.fitted.items(), z, strict=True):
            by = deviation * float(number)
            off[name] = 1.0 + by / value if UNKNOWNS[name].neutral == 1.0 else by
        return off


def unrelated(z: np.ndarray) -> np.ndarray:
    """Numbers (cases, names) with the same values in each column in another order, so that columns go
    together as little as so few cases allow: by chance some do, and widths would be those of one draw.
    Columns are moved apart by small steps and take their own values again by rank (Iman & Conover
    1982, Commun. Stat. B 11; Owen 1994, Ann. Stat. 22; from memory)."""
    if z.shape[1] < 2:
        return z
    moved = z
    for _ in range(MOVES):
        together = np.corrcoef(moved.T) - np.eye(z.shape[1])
        moved = moved - MOVE * moved @ together
        moved = (moved - moved.mean(axis=0)) / moved.std(axis=0)
    ranks = np.argsort(np.argsort(moved, axis=0), axis=0)
    return np.take_along_axis(np.sort(z, axis=0), ranks, axis=0)
