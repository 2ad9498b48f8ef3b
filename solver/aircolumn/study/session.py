"""A study from plan to answer: which question was asked, and its store of points in a folder."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

from aircolumn.curves.interest import interest
from aircolumn.engine.description.base import required
from aircolumn.study.aims import check_aim
from aircolumn.study.cells import StudyCells, cells_of
from aircolumn.study.models import Aim
from aircolumn.study.search import RunnerSearch, SearchResult, checked_aims
from aircolumn.study.sensitivity import Indices, need_salib, sensitivity
from aircolumn.study.store import Store, store_in
from aircolumn.study.sweep import Sweep, swept
from aircolumn.study.tolerance import Band, tolerance

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Plan


@dataclass(frozen=True)
class Searched:
    """A search and what it found."""

    search: RunnerSearch
    found: SearchResult


@dataclass(frozen=True)
class Sensitive:
    """What the aim is sensitive to."""

    aim: Aim
    indices: Indices


@dataclass(frozen=True)
class StudyAnswer:
    """The answer to a study's question; its cells; points computed now, taken from the store, and there
    for another engine file, study or solver version; seconds it took; path of the store; places there
    that were damaged; where a damaged store was put."""

    result: Sweep | Searched | Sensitive | Band
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
    _check(plan)
    with closing(store_in(folder)) as store:
        ask: Callable = swept
        for name, question in _QUESTIONS.items():
            if getattr(plan.study, name) is not None:
                ask = question
        cells = cells_of(plan, store, executor)
        tried, looked_up, start = store.written, len(store.asked), monotonic()
        result = ask(plan, cells, store, executor, progress)
        fresh, seconds = store.written - tried, monotonic() - start
        taken = len(store.asked) - looked_up - fresh
        return StudyAnswer(
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


def _check(plan: Plan) -> None:
    """What can be wrong with the question, before anything is written. Raises RequestError."""
    if plan.study.search is not None:
        checked_aims(plan)
    if plan.study.sensitivity is not None:
        need_salib()
        _sensitivity_aim(plan)


def _search(
    plan: Plan, cells: StudyCells, store: Store, executor: Executor, progress: ProgressCallback | None
) -> Searched:
    search = RunnerSearch(plan, store, executor, progress, cells)
    return Searched(search, search.run())


def _sensitivity(
    plan: Plan, cells: StudyCells, store: Store, executor: Executor, progress: ProgressCallback | None
) -> Sensitive:
    aim = _sensitivity_aim(plan)
    return Sensitive(aim, sensitivity(plan.on(cells.final), aim, store, executor, progress))


def _tolerance(
    plan: Plan, cells: StudyCells, store: Store, executor: Executor, progress: ProgressCallback | None
) -> Band:
    return tolerance(plan.on(cells.final), store, executor, progress)


def _sensitivity_aim(plan: Plan) -> Aim:
    span = interest(plan.engine.speeds, plan.speeds)
    return check_aim(required(plan.study.sensitivity).aim, plan.speeds, span)


_QUESTIONS: dict[str, Callable] = {
    "search": _search,
    "sensitivity": _sensitivity,
    "tolerance": _tolerance,
}
