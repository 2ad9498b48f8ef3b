"""From the tuned table of the old manifold to that of the new one.

    new table = old table x predicted filling of the new over predicted filling of the old

cell by cell, at the same speed and load. What the model has wrong about the engine is in both predictions and
drops out of their quotient, as in the next manifold from the pull of the last (study/bands/next_manifold.py);
what the tuner has found out is in the old table and stays. How well the quotient is known is seen in engines
that the file's may be, the same for both manifolds (study/bands/cases.py): its half-width is K standard
deviations of its logarithm over them, with what the cells do added by root-sum-square. Cells that change by
less than that are left as they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.uncertain.alternatives import K
from aircolumn.fuelling.at_load import Throttled
from aircolumn.fuelling.filling import filling_of
from aircolumn.fuelling.table_file import read_at
from aircolumn.study.bands.cases import Cases
from aircolumn.study.points import compute_missing
from aircolumn.study.tasks import NAMES, Task

if TYPE_CHECKING:
    from collections.abc import Sequence

    from aircolumn.curves.accuracy import ChosenCells
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description
    from aircolumn.fuelling.at_load import AtLoad
    from aircolumn.fuelling.stages import Stages
    from aircolumn.study.executors import Executor
    from aircolumn.study.store import Store

MOST_SPEEDS, PLACES = 7, (0.0, 0.5, 1.0)  # of the table, at which the quotient's band is looked at
REPEATS = 3e-3  # of the drawn engines' cycles: it shows in their filling by 0.1 %, in the band by nothing
ENOUGH = 0.8  # share of the cases that must be there


@dataclass(frozen=True)
class Doubt:
    """Half-widths, relative, (speeds, loads): of the quotient, and of the new manifold's own filling; cases:
    how many engines they are of."""

    ratio: np.ndarray
    alone: np.ndarray
    cases: int


@dataclass(frozen=True)
class Transferred:
    """A table of the new manifold, (speeds, loads). ratio: predicted new over old, NaN out of reach of
    either; doubt: of it; values: filling, as the old table's where the change is within doubt (``left``) or
    out of reach (``beyond``)."""

    ratio: np.ndarray
    doubt: Doubt
    values: np.ndarray
    left: np.ndarray
    beyond: np.ndarray

    @property
    def changed(self) -> np.ndarray:
        """The cells that are another."""
        return ~(self.left | self.beyond)


def transferred(table: np.ndarray, ratio: np.ndarray, doubt: Doubt) -> Transferred:
    """The table (speeds, loads) with the quotient where that is known well enough to change a cell."""
    beyond = ~np.isfinite(ratio)
    left = ~beyond & (np.abs(np.log(np.where(beyond, 1.0, ratio))) <= doubt.ratio)
    values = np.where(beyond | left, table, table * np.where(beyond, 1.0, ratio))
    return Transferred(ratio, doubt, values, left, beyond)


def speeds_of_band(speeds: int) -> int:
    """At how many of a table's speeds the quotient's band is looked at."""
    return min(MOST_SPEEDS, speeds)


def doubt_of(
    description: Description,
    names: tuple[str, str],
    tables: tuple[AtLoad, AtLoad],
    cells: ChosenCells | None,
    referred_to: str,
    count: int,
    store: Store,
    executor: Executor,
    stages: Stages,
) -> Doubt:
    """How well the quotient of two manifolds is known, in ``count`` engines that the file's may be. names: of
    the old and the new one; tables: their cells in the file's own engine."""
    cases = Cases.of(description.only(*names))
    rpm, loads = tables[0].rpm, tables[0].loads
    places = np.linspace(0, len(rpm) - 1, speeds_of_band(len(rpm))).round().astype(int)
    engines = [cases.engines(z) for z in cases.drawn(count)]
    chains = [_Chains(one, places, cells, referred_to) for one in tables]
    of_cases = [
        [(chain, case[name], chain.tasks(case[name])) for name, chain in zip(names, chains, strict=True)]
        for case in engines
        if not isinstance(case, str)
    ]
    every = [task for case in of_cases for _, _, tasks in case for task in tasks]
    points = sum(len(task.points) for task in every)
    compute_missing(every, store, executor, stages.next(points, was_to_come=True))
    found = []
    for case in of_cases:
        old, new = (chain.filling(engine, tasks, store) for chain, engine, tasks in case)
        found.append((np.log(new[0] / _at(old, new[1])), np.log(new[0])))
    table = np.array(found)  # (cases, 2, speeds, places)
    known = np.isfinite(table).all(axis=(1, 2, 3))
    spread = K * np.std(table[known], axis=0, ddof=1)
    error = 0.0 if cells is None or not np.isfinite(cells.error) else cells.error
    at = rpm[places], chains[1].places
    wide = [read_at(*at, np.hypot(one, error), rpm[:, None], loads) for one in spread]
    return Doubt(wide[0], wide[1], int(known.sum()))


class _Chains:
    """Points of drawn engines at three angles of the throttle a speed: those of the file's own engine from
    the lowest load to the open throttle."""

    def __init__(
        self, table: AtLoad, places: np.ndarray, cells: ChosenCells | None, referred_to: str
    ) -> None:
        self.table, self.cells, self.referred_to = table, cells, referred_to
        self.rpm = table.rpm[places]
        reached = [np.flatnonzero(np.isfinite(table.angle[k])) for k in places]
        at = [[r[round(share * (len(r) - 1))] for share in PLACES] for r in reached]
        self.angles = [table.angle[k, j] for k, j in zip(places, at, strict=True)]
        self.places = np.mean([table.loads[j] for j in at], axis=0)

    def tasks(self, engine: Engine) -> list[Task]:
        """Those of an engine: a chain from the widest angle down at every speed."""
        one = Throttled(engine, self.cells, REPEATS)
        return [one.task(n, a[::-1].tolist()) for n, a in zip(self.rpm, self.angles, strict=True)]

    def filling(self, engine: Engine, tasks: Sequence[Task], store: Store) -> tuple[np.ndarray, np.ndarray]:
        """(filling, loads) of the tasks of an engine, (speeds, angles) from the lowest load up."""
        rows = []
        for task in tasks:
            keys = task.keys()
            stored = store.get(keys)
            rows.append([[stored[k].figure(name) for k in keys[::-1]] for name in NAMES])
        figures = dict(zip(NAMES, np.transpose(np.array(rows), (1, 0, 2)), strict=True))
        loads = figures["plenum_pressure"]
        if self.table.by_opening:
            loads = np.broadcast_to(self.places, loads.shape)
        return filling_of(figures, engine, self.referred_to), loads


def _at(one: tuple[np.ndarray, np.ndarray], loads: np.ndarray) -> np.ndarray:
    """Filling read off at other loads, row by row; past its ends that of the nearest."""
    return np.array([np.interp(x, at, row) for row, at, x in zip(*one, loads, strict=True)])
