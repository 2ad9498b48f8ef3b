"""A study from plan to answer: which question was asked, and its store of points in a folder."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any

from aircolumn.questions.kind import Work
from aircolumn.questions.read import question_of
from aircolumn.study.cells import StudyCells, cells_of
from aircolumn.study.store import store_in

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.questions.kind import Question
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Plan


@dataclass(frozen=True)
class StudyAnswer:
    """The kind of study, and its answer; its cells; points computed now, taken from the store, and there
    for another engine file, study or solver version; seconds it took; path of the store; places there
    that were damaged; where a damaged store was put."""

    kind: Question
    result: Any
    cells: StudyCells
    fresh: int
    before: int
    others: int
    seconds: float
    store: Path
    damaged: int = 0
    aside: Path | None = None


def answer(
    plan: Plan, folder: Path, executor: Executor, progress: ProgressCallback | None = None
) -> StudyAnswer:
    """Compute a plan with the store of points in ``folder`` (made if need be). Raises what the
    plan's question raises."""
    kind = question_of(plan)
    kind.check(plan)
    with closing(store_in(folder)) as store:
        cells = cells_of(plan, store, executor)
        tried, looked_up, start = store.written, len(store.asked), monotonic()
        result = kind.ask(plan, Work(cells, store, executor, progress))
        fresh, seconds = store.written - tried, monotonic() - start
        taken = len(store.asked) - looked_up - fresh
        return StudyAnswer(
            kind,
            result,
            cells,
            fresh,
            taken,
            store.others(),
            seconds,
            store.path,
            store.damaged,
            store.aside,
        )
