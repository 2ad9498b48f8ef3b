"""Points of a study: from the store, or computed and stored."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.study.tasks import Outcome, Task, solver_version

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Case, Plan
    from aircolumn.study.store import Store

NO_ENGINE = "no engine: "
BLOCK = 500  # cases laid out at a time


def tasks_of(case: Case, speeds: np.ndarray, warm: bool, refinement: float = 1.0) -> list[Task]:
    """A case's tasks: one a speed, or, started warm, one for all from the highest speed down."""
    solver, engine = solver_version(), required(case.engine)
    if warm:
        # Fast cycles first: they are cheap, and the slower ones then start near their own.
        return [Task(engine, tuple(map(float, speeds[::-1])), True, solver, refinement)]
    return [Task(engine, (float(n),), False, solver, refinement) for n in speeds]


def compute_missing(
    tasks: Sequence[Task], store: Store, executor: Executor, progress: ProgressCallback | None = None
) -> None:
    """Compute and store what the store has not.

    progress(done, total) is called when a task is on disk.
    """
    unlike = {tuple(task.keys()): task for task in tasks}  # engines alike are computed once
    keys = list(unlike)
    missing = [(t, k) for k, t in unlike.items() if len(store.get(k)) < len(k)]
    total = sum(map(len, keys))
    done = total - sum(len(k) for _, k in missing)
    if progress:
        progress(done, total)
    # Slow speeds take longest: started first, they do not keep one core busy at the end.
    missing.sort(key=lambda pair: min(pair[0].speeds))
    for number, outcomes in executor.run([t for t, _ in missing]):
        store.put(missing[number][1], outcomes)
        done += len(outcomes)
        if progress:
            progress(done, total)


def outcomes_of(
    case: Case, speeds: np.ndarray, warm: bool, store: Store, refinement: float = 1.0
) -> list[Outcome]:
    """Outcomes of a computed case by speed; without an engine, the reason."""
    if case.engine is None:
        return [Outcome(None, NO_ENGINE + case.reason)] * len(speeds)
    found: dict[float, Outcome] = {}
    for task in tasks_of(case, speeds, warm, refinement):
        keys = task.keys()
        stored = store.get(keys)
        found.update((n, stored[k]) for n, k in zip(task.speeds, keys, strict=True))
    return [found[float(n)] for n in speeds]


def computed(
    plan: Plan,
    rows: Sequence[tuple[float, ...]],
    store: Store,
    executor: Executor,
    progress: ProgressCallback | None = None,
    refinement: float = 1.0,
) -> Iterator[list[Outcome]]:
    """Yield the outcomes of every case by speed, ``rows`` being the values of each (Plan.case);
    what is missing is computed and stored first.

    Cases are laid out BLOCK at a time: a study may have more of them than fit into memory.
    """
    warm = plan.study.warm_start and refinement == 1.0
    for start in range(0, len(rows), BLOCK):
        cases = [plan.case(values) for values in rows[start : start + BLOCK]]
        tasks = [t for c in cases if c.engine for t in tasks_of(c, plan.speeds, warm, refinement)]
        told = progress and _part_of(progress, start, len(cases), len(rows), len(plan.speeds))
        compute_missing(tasks, store, executor, told)
        for case in cases:
            yield outcomes_of(case, plan.speeds, warm, store, refinement)


def _part_of(progress: ProgressCallback, start: int, count: int, cases: int, speeds: int) -> Callable:
    """Progress of a block of ``count`` cases as that of all; points alike or without an engine
    count as done."""

    def told(done: int, total: Any) -> None:
        progress((start + count) * speeds - (total - done), cases * speeds)

    return told
