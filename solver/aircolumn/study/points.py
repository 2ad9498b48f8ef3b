"""Points of a study: from the store, or computed and stored."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.sources import solver_version
from aircolumn.study.tasks import Outcome, Task

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Case, Plan
    from aircolumn.study.store import Store

NO_ENGINE = "no engine: "
BLOCK = 500  # cases laid out at a time
TOGETHER = 10  # cases of a grid, in a chain at most: more cores than chains would have nothing to do


def tasks_of(case: Case, speeds: np.ndarray, warm: bool, refinement: float = 1.0) -> list[Task]:
    """A case's tasks: one a speed, or, started warm, one for all from the highest speed down."""
    engine = required(case.engine)
    if warm:
        # Fast cycles first: they are cheap, and the slower ones then start near their own.
        down = tuple((float(n), engine, float(n)) for n in speeds[::-1])
        return [Task(down, solver_version(), refinement)]
    return [Task.alone(engine, n, refinement) for n in speeds]


def tasks_beside(cases: Sequence[Case], speeds: np.ndarray) -> list[Task]:
    """Tasks of cases that differ by the value of their last key: one for all of them at each speed."""
    points = [(float(case.values[-1]), required(case.engine)) for case in cases]
    return [Task(tuple((at, e, float(n)) for at, e in points), solver_version()) for n in speeds]


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
    missing.sort(key=lambda pair: min(rpm for _, _, rpm in pair[0].points))
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
        found.update((rpm, stored[k]) for (_, _, rpm), k in zip(task.points, keys, strict=True))
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


def goes_in_close_steps(plan: Plan) -> bool:
    """Whether the cases are a grid whose last key goes in close steps, each to start from those before it."""
    return plan.grid_shape() is not None and not plan.study.warm_start and plan.axes[-1].in_close_steps


def computed_grid(
    plan: Plan, store: Store, executor: Executor, progress: ProgressCallback | None = None
) -> Iterator[list[Outcome]]:
    """As computed, all cases of a grid whose last key goes in close steps: up to TOGETHER of them beside each
    other are marched one after another, each from those before it."""
    rows, speeds = plan.rows, plan.speeds
    size = len(plan.axes[-1].values)
    block = size * max(BLOCK // size, 1)
    for start in range(0, len(rows), block):
        cases = [plan.case(values) for values in rows[start : start + block]]
        groups = _groups(cases, size)
        tasks = {k: tasks_beside(group, speeds) for k, group in groups.items()}
        told = progress and _part_of(progress, start, len(cases), len(rows), len(speeds))
        compute_missing([t for row in tasks.values() for t in row], store, executor, told)
        for k, case in enumerate(cases):
            if case.engine is None:
                yield [Outcome(None, NO_ENGINE + case.reason)] * len(speeds)
            if k in tasks:
                yield from _by_case(tasks[k], store)


def _groups(cases: Sequence[Case], size: int) -> dict[int, list[Case]]:
    """Cases marched together, by the number of the first: of a row of the grid (``size`` cases) TOGETHER at
    most, without a gap."""
    groups: dict[int, list[Case]] = {}
    first: int | None = None
    for k, case in enumerate(cases):
        if case.engine is None:
            first = None
            continue
        if first is None or k % size % TOGETHER == 0:
            first = k
        groups.setdefault(first, []).append(case)
    return groups


def _by_case(tasks: Sequence[Task], store: Store) -> list[list[Outcome]]:
    """The outcomes of tasks_beside, for each of its cases by speed."""
    found = []
    for task in tasks:
        keys = task.keys()
        stored = store.get(keys)
        found.append([stored[k] for k in keys])
    return [list(case) for case in zip(*found, strict=True)]


def _part_of(progress: ProgressCallback, start: int, count: int, cases: int, speeds: int) -> Callable:
    """Progress of a block of ``count`` cases as that of all; points alike or without an engine
    count as done."""

    def told(done: int, total: Any) -> None:
        progress((start + count) * speeds - (total - done), cases * speeds)

    return told
