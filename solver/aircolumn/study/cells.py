"""The cells of a study: long ones to look through all cases with, and those that the accuracy of the
engine file asks for, with which the best are computed again.

They are found as those of a curve are (curves/accuracy.py): the final ones on the first and the last values
of the varied keys, those to screen with on the engine as its file has it, as a few cases may be further
off where only the best are kept. What is tried goes into the store like every point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.accuracy import FIGURES, ChosenCells, longest_cells, places_in, with_scale
from aircolumn.display_units import percent
from aircolumn.study.points import compute_missing
from aircolumn.study.tasks import Task

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Plan
    from aircolumn.study.store import Store


WORTH = 100  # points: for fewer, trying costs more than it saves


@dataclass(frozen=True)
class StudyCells:
    """The cells of all cases and those of the best; None where the engine file states them, or the study
    is too small to choose any."""

    screening: ChosenCells | None = None
    final: ChosenCells | None = None

    @property
    def screens(self) -> bool:
        """Whether the best are to be computed again."""
        both = self.screening is not None and self.final is not None
        return both and self.screening.scale > self.final.scale  # type: ignore[union-attr]


def cells_of(plan: Plan, store: Store, executor: Executor) -> StudyCells:
    """The cells of a study. Raises ComputationError if no point that is tried can be computed."""
    varied = any(axis.path[:1] == ("numerics",) for axis in plan.axes)
    if varied or plan.engine.numerics.states_cells or plan.count * len(plan.speeds) < WORTH:
        return StudyCells()
    numerics, screening = plan.engine.numerics, plan.study.screening
    engines = [case.engine for case in plan.extremes() if case.engine] or [plan.engine]
    stated, where = numerics.states_accuracy, (plan.speeds, store, executor)
    final = cells_tried(engines, numerics.accuracy, *where, stated)
    if screening <= numerics.accuracy:
        return StudyCells(final, final)
    return StudyCells(cells_tried([plan.engine], screening, *where, stated), final)


def cells_tried(
    engines: Sequence[Engine],
    accuracy: float,
    speeds: ArrayLike,
    store: Store,
    executor: Executor,
    stated: bool = True,
) -> ChosenCells:
    """The longest cells that keep VE and torque of these engines within an accuracy at some of the speeds
    (curves/accuracy.py). Raises ComputationError if no point that is tried can be computed."""
    at = places_in(speeds)
    return longest_cells(partial(_tried, engines, at, store, executor), accuracy, at, stated)


def _tried(
    engines: Sequence[Engine],
    at: Sequence[float],
    store: Store,
    executor: Executor,
    scales: Sequence[float],
) -> dict[float, np.ndarray]:
    """VE and torque of the engines at these speeds, for each scale."""
    tasks = {s: [Task.alone(with_scale(e, s), n) for e in engines for n in at] for s in scales}
    compute_missing([t for row in tasks.values() for t in row], store, executor)
    found = {}
    for scale, row in tasks.items():
        keys = [task.keys()[0] for task in row]
        stored = store.get(keys)
        found[scale] = np.array([[stored[k].figure(name) for name in FIGURES] for k in keys])
    return found


def cells_text(cells: StudyCells, again: str) -> str:
    """How the cells were chosen, and what of the best was computed again: "12 points"."""
    if cells.final is None or cells.screening is None:
        return ""
    if not cells.screens:
        return str(cells.final)
    screening, final = (percent(c.accuracy, ".2g") for c in (cells.screening, cells.final))
    return (
        f"All cases were computed at an accuracy of {screening} (`screening`), and the best ({again}) again"
        f" at {final}.\nAll cases: {cells.screening}\nThe best: {cells.final}"
    )
