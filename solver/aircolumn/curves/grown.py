"""Curves that grow: where the points of several engines start from.

Speeds that are asked for, in the file or by name, are marched from rest: they are the same whatever else is
computed. Even speeds added between them (speeds.py) hang on the asked one below, each started on the line
through the two before it; what locates a hump hangs on the two even ones around it. A point so depends on
its engine, its speed and the speeds asked for, not on cores or on what was computed first.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.points import march_all
from aircolumn.engine.model.stretches import Stretch
from aircolumn.errors import ComputationError

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.model.figures import OperatingPoint
    from aircolumn.engine.model.neighbours import Settled
    from aircolumn.protocols import ProgressCallback

#: An engine's number and a speed, rev/min.
Place = tuple[int, float]


class Grown:
    """The points found so far, and why others failed. even: the rising speeds (rev/min) that others hang on;
    asked: those of them that are marched from rest."""

    def __init__(self, engines: Sequence[Engine], even: np.ndarray, asked: np.ndarray) -> None:
        self.engines, self.even = engines, even
        cuts = np.flatnonzero(np.isin(even, asked))
        self.parts = [tuple(map(float, part)) for part in np.split(even, cuts[cuts > 0])]
        self.found: dict[Place, OperatingPoint] = {}
        self.failures: dict[Place, str] = {}
        self.ends: dict[Place, Settled | None] = {}

    def compute(
        self, wanted: Sequence[Place], progress: ProgressCallback | None = None, workers: int | None = None
    ) -> bool:
        """March what is not there yet of ``wanted``; whether there was any. Raises ComputationError if
        no point at all could be computed."""
        before = len(self.ends)
        while jobs := self._next(wanted):
            told = progress and _told_from(progress, len(self.ends))
            for (i, _), marched in march_all(jobs, told, workers, with_ends=True):
                for m in marched:
                    self.ends[i, m.at] = m.settled
                    if m.point is None:
                        self.failures[i, m.at] = m.reason
                    else:
                        self.found[i, m.at] = m.point
        if self.failures and not self.found:
            raise ComputationError(next(iter(self.failures.values())))
        return len(self.ends) > before

    def _next(self, wanted: Sequence[Place]) -> dict[tuple, Stretch]:
        """What can be marched now: even speeds if any are wanted or hung on, else what hangs on them."""
        due = [place for place in wanted if place not in self.ends]
        on = {(i, m) for i, n in due for m in self._hangs_on(n)} - self.ends.keys()
        if on:
            parts = [(i, part) for i in range(len(self.engines)) for part in self.parts]
            return {
                (i, part): Stretch.over_speed(self.engines[i], part)
                for i, part in parts
                if any((i, n) in on for n in part)
            }
        return {
            (i, n): Stretch.over_speed(self.engines[i], (n,), neighbours=self._neighbours(i, n))
            for i, n in due
        }

    def _neighbours(self, i: int, rpm: float) -> tuple[Settled | None, ...]:
        return tuple(self.ends[i, n] for n in self._hangs_on(rpm))

    def _hangs_on(self, rpm: float) -> list[float]:
        """An even speed itself; of others the one or two even ones next to it."""
        k = int(np.searchsorted(self.even, rpm))
        if k < self.even.size and self.even[k] == rpm:
            return [rpm]
        return [float(n) for n in self.even[max(k - 1, 0) : k + 1]]


def _told_from(progress: ProgressCallback, done: int) -> ProgressCallback:
    """Progress of more points, ``done`` being done."""
    return lambda n, total: progress(done + n, done + (total or 0))
