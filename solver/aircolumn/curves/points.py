"""Operating points by the dozen: on all cores, and what could not be computed kept apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves import cores, kept_points
from aircolumn.engine.model.figures import OperatingPoint
from aircolumn.engine.model.stretches import Marched, Stretch, march
from aircolumn.errors import ComputationError

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.protocols import ProgressCallback


def compute_points(
    jobs: Any,
    progress: ProgressCallback | None = None,
    workers: int | None = None,
) -> tuple[dict[Any, OperatingPoint], dict[Any, str]]:
    """Operating points of ``jobs``, a list of (key, engine, rpm, refinement), each marched from rest.

    Returns ({key: point}, {key: reason}): what was computed, and why the rest could not be. They
    are computed on all cores (cores.py). ``progress(done, total)`` is called
    after each point. Raises ComputationError if no point at all could be computed.
    """
    alone = {key: Stretch.over_speed(engine, (rpm,), refinement) for key, engine, rpm, refinement in jobs}
    results, failures = {}, {}
    for key, (marched,) in march_all(alone, progress, workers):
        if marched.point is None:
            failures[key] = marched.reason
        else:
            results[key] = marched.point
    if failures and not results:
        raise ComputationError(next(iter(failures.values())))
    return results, failures


def march_all(
    stretches: dict[Any, Stretch],
    progress: ProgressCallback | None = None,
    workers: int | None = None,
    with_ends: bool = False,
) -> Iterator[tuple[Any, list[Marched]]]:
    """Yield (key, its points) of each of ``stretches`` as it is done, those first that a command which was
    stopped has kept (kept_points.py; with_ends: others start from them); the rest as for compute_points."""
    done, total, kept = 0, sum(len(s.points) for s in stretches.values()), kept_points.current()
    there = {} if kept is None else {k: m for k, s in stretches.items() if (m := kept.get(s)) is not None}
    for key, found in there.items():
        done += len(found)
        yield key, found
    if progress and done:
        progress(done, total)
    # Slow speeds take longest: start them first.
    left = [item for item in stretches.items() if item[0] not in there]
    ordered = sorted(left, key=lambda item: item[1].points[0][2])
    if not ordered:
        return
    with cores.pool(workers, total - done) as pool:
        pending = {pool.submit(march, stretch): key for key, stretch in ordered}
        try:
            while pending:
                for future in cores.first_done(pending):
                    found, key = future.result(), pending.pop(future)
                    done += len(found)
                    if kept is not None:
                        kept.put(stretches[key], found, with_ends)
                    yield key, found
                    if progress:
                        progress(done, total)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def all_points(
    jobs: Sequence[tuple[int | tuple[int, int], Engine, float, float]],
    progress: ProgressCallback | None = None,
    workers: int | None = None,
) -> dict:
    """Compute points of which every one is needed (see compute_points). Raises ComputationError if one
    is missing."""
    results, failures = compute_points(jobs, progress, workers)
    for reason in failures.values():
        raise ComputationError(reason)
    return results


@dataclass(frozen=True)
class PointGrid:
    """Points of several engines at several speeds: points[engine][speed], None where reasons
    (array of text, (engines, speeds)) says why it could not be computed."""

    points: list[list[OperatingPoint | None]]
    reasons: np.ndarray

    def table(self, value: Callable, missing: Any) -> np.ndarray:
        """value(point) at each place, ``missing`` where there is none."""
        return np.array([[missing if p is None else value(p) for p in row] for row in self.points])

    def figure(self, name: str) -> np.ndarray:
        """A figure (engines, speeds), NaN where there is none."""
        return self.table(lambda p: p.figures[name], np.nan)

    def any_point(self) -> OperatingPoint:
        """One that was computed."""
        return next(p for row in self.points for p in row if p is not None)


def point_grid(
    engines: Sequence[Engine],
    speeds: np.ndarray,
    progress: ProgressCallback | None = None,
    workers: int | None = None,
    refinement: float = 1.0,
) -> PointGrid:
    """Every engine of a list at every speed (rev/min); the rest as for points."""
    cells = [[(i, k) for k in range(len(speeds))] for i in range(len(engines))]
    jobs = [(c, engines[c[0]], float(speeds[c[1]]), refinement) for row in cells for c in row]
    return as_grid(cells, *compute_points(jobs, progress, workers))


def as_grid(
    cells: Any,
    found: Any,
    failures: Any,
) -> PointGrid:
    """Points and reasons by key as a grid; cells: the keys in rows."""
    reasons = np.array([[failures.get(c, "") for c in row] for row in cells], dtype=object)
    return PointGrid([[found.get(c) for c in row] for row in cells], reasons)
