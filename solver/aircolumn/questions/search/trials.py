"""Torque curves of designs: of the file's engine, or of every engine that it may be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.study.plan import Case
from aircolumn.study.points import compute_missing, computed, outcomes_of, tasks_of

if TYPE_CHECKING:
    from aircolumn.curves.accuracy import ChosenCells
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.questions.search.drawn import DrawnEngines
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Plan
    from aircolumn.study.store import Store
    from aircolumn.study.tasks import Outcome

HALVED = 2  # how often cells are halved for drawn engines that break down on long ones


@dataclass(frozen=True)
class Trial:
    """torque: N m (engines, speeds), NaN where a point could not be computed; engine: that of the file with
    the design, None if there is none; reason: why there is none; failed: why a point could not be."""

    torque: np.ndarray
    engine: Engine | None
    reason: str = ""
    failed: str = ""


class Trials:
    """Where curves come from: a plan (its cells and speeds), a store and an executor. drawn, count: the
    engines that the file's may be and how many of them, None and 1 for the file's alone."""

    def __init__(
        self,
        plan: Plan,
        store: Store,
        executor: Executor,
        drawn: DrawnEngines | None = None,
        count: int = 1,
    ) -> None:
        self.plan, self.store, self.executor = plan, store, executor
        self.drawn, self.count = drawn, count

    def on(self, cells: ChosenCells | None, speeds: np.ndarray) -> Trials:
        """The same on other cells, at other speeds."""
        return Trials(self.plan.on(cells, speeds), self.store, self.executor, self.drawn, self.count)

    def of(self, rows: Sequence[tuple], refinement: float = 1.0) -> list[Trial]:
        """Those of designs, by the values of their keys; computed together."""
        if self.drawn is not None:
            return self._of_drawn([self.drawn.of_design(row, self.count) for row in rows])
        table = computed(self.plan, rows, self.store, self.executor, refinement=refinement)
        found = []
        for row, outcomes in zip(rows, table, strict=True):
            torque = _torque(outcomes)[None]
            case = self.plan.case(row)
            failed = next((o.reason for o in outcomes if o.figures is None), "")
            found.append(Trial(torque, case.engine, case.reason, failed))
        return found

    def of_runner(self, name: str | None, refinement: float = 1.0) -> Trial:
        """That of a candidate as the file has it (None: of the file's own runner)."""
        if self.drawn is not None:
            return self._of_drawn([self.drawn.of_runner(name, self.count)])[0]
        engine = self.plan.engine_of(name)
        case = Case((), engine if self.plan.cells is None else self.plan.cells.apply(engine))
        warm = self.plan.study.warm_start and refinement == 1.0
        compute_missing(tasks_of(case, self.plan.speeds, warm, refinement), self.store, self.executor)
        outcomes = outcomes_of(case, self.plan.speeds, warm, self.store, refinement)
        return Trial(_torque(outcomes)[None], engine)

    def _of_drawn(self, designs: Sequence[tuple[Engine | None, list[Engine | str], str]]) -> list[Trial]:
        """Of (engine of the file, drawn engines or what is wrong with them, why there is none)."""
        cells, speeds = self.plan.cells, self.plan.speeds
        curves = {
            (d, k): np.full(len(speeds), np.nan)
            for d, (_, engines, _) in enumerate(designs)
            for k in range(len(engines))
        }
        missing = [at for at in curves if not isinstance(designs[at[0]][1][at[1]], str)]
        for _ in range(1 + HALVED):
            cases = {at: self._case(designs[at[0]][1][at[1]], cells) for at in missing}
            tasks = [t for case in cases.values() for t in tasks_of(case, speeds, True)]
            compute_missing(tasks, self.store, self.executor)
            for at, case in cases.items():
                curves[at] = _torque(outcomes_of(case, speeds, True, self.store))
            missing = [at for at in missing if not np.isfinite(curves[at]).all()]
            if cells is None or not missing:
                break
            cells = replace(cells, scale=0.5 * cells.scale)
        whole = [np.array([curves[d, k] for k in range(len(row[1]))]) for d, row in enumerate(designs)]
        return [
            Trial(torque.reshape(-1, len(speeds)), engine, reason)
            for torque, (engine, _, reason) in zip(whole, designs, strict=True)
        ]

    @staticmethod
    def _case(engine: Engine | str, cells: ChosenCells | None) -> Case:
        assert not isinstance(engine, str)
        return Case((), engine if cells is None else cells.apply(engine))


def _torque(outcomes: Sequence[Outcome]) -> np.ndarray:
    return np.array([o.figure("torque") for o in outcomes], dtype=float)
