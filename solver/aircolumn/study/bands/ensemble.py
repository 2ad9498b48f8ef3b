"""Curves of all candidates in many cases, on long cells, and how far these may be off.

Cases are computed at the accuracy of ``screening``. Each candidate's curve in the file's own engine is
computed at the engine file's accuracy as well, and the cases are multiplied by the quotient of the two; by
how much that quotient changes from case to case is seen in a few cases that are computed on both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.accuracy import ChosenCells
from aircolumn.display_units import percent
from aircolumn.engine.uncertain.alternatives import K
from aircolumn.errors import ComputationError
from aircolumn.study.cells import cells_tried
from aircolumn.study.plan import Case
from aircolumn.study.points import compute_missing, outcomes_of, tasks_of

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.bands.cases import Cases
    from aircolumn.study.executors import Executor
    from aircolumn.study.store import Store

SCREENING = 0.005  # accuracy at which cases are computed, each speed started from the one above it
CHECKED, PLACES = 3, 4  # cases that are computed at the file's accuracy too, at so many speeds
HALVED = 2  # how often cells are halved for cases that break down on long ones
MOST_LOST = 0.1  # share of cases that may be impossible or fail
FINEST = 1e-3  # relative half-width taken for cells that the file states


@dataclass(frozen=True)
class Ensemble:
    """Curves of many cases.

    rpm: (s,), rev/min; runners: names; torque: N m (cases, runners, s), of the cases that could be
    computed; numbers: (cases, inputs), theirs; own: N m (runners, s), of the file's own engine; level, gap:
    half-widths (relative to torque) of what the cells do to a curve and to the difference of each two
    (runners, runners; 95 %); cells: how they were chosen; lost: why cases are missing.
    """

    rpm: np.ndarray
    runners: list[str]
    torque: np.ndarray
    numbers: np.ndarray
    own: np.ndarray
    level: float
    gap: np.ndarray
    cells: str
    lost: list[str]


def ensemble(
    cases: Cases,
    speeds: np.ndarray,
    count: int,
    store: Store,
    executor: Executor,
    progress: ProgressCallback | None = None,
) -> Ensemble:
    """Compute ``count`` cases, or take them from the store. Raises ComputationError if the file's own
    engine cannot be computed, or more than MOST_LOST of the cases."""
    own = {n: cases.description.with_runner(n) for n in cases.description.runners}
    coarse, fine = _cells(list(own.values()), speeds, store, executor)
    numbers = cases.drawn(count)
    laid_out = [cases.engines(row) for row in numbers]
    engines = [own, *(c for c in laid_out if isinstance(c, dict))]
    screened = [(_on(coarse, one), True) for one in engines]
    checked = [(_on(fine, one), False) for one in engines[1 : CHECKED + 1]]
    places = np.unique(np.round(np.linspace(0, speeds.size - 1, PLACES)).astype(int))  # of their speeds
    wanted = [(screened, speeds), ([(_on(fine, own), False)], speeds), (checked, speeds[places])]
    _compute(wanted, store, executor, progress)
    base, *table = _whole(engines, coarse, speeds, store, executor)
    fine_base = _curves(_on(fine, own), False, speeds, store)
    fine_table = [_curves(*one, speeds[places], store) for one in checked]
    if not np.isfinite(base * fine_base).all():
        raise ComputationError(
            "the file's own engine cannot be computed at every speed: see aircolumn compare"
        )
    sound = [np.isfinite(c).all() for c in table]
    lost = [c for c in laid_out if isinstance(c, str)] + ["a point could not be computed"] * sound.count(
        False
    )
    if len(lost) > MOST_LOST * count:
        raise ComputationError(f"{len(lost)} of {count} cases cannot be computed: {lost[0]}")
    quotient = fine_base / base
    corrected = np.array(table[: len(fine_table)])[..., places] * quotient[:, places]
    level, gap = _off(corrected, np.array(fine_table), fine)
    there = [k for k, c in enumerate(laid_out) if isinstance(c, dict)]
    kept = [k for k, ok in zip(there, sound, strict=True) if ok]
    torque = np.array([c for c, ok in zip(table, sound, strict=True) if ok]) * quotient
    return Ensemble(
        speeds, list(own), torque, numbers[kept], fine_base, level, gap, _said(coarse, fine), lost
    )


def _cells(
    engines: Sequence[Engine], speeds: np.ndarray, store: Store, executor: Executor
) -> tuple[ChosenCells | None, ChosenCells | None]:
    """The cells of the cases and those of the file's accuracy; None where the file states its cells."""
    numerics = engines[0].numerics
    if numerics.states_cells:
        return None, None
    ends, where = [engines[0], *engines[1:][-1:]], (speeds, store, executor)
    fine = cells_tried(ends, numerics.accuracy, *where, numerics.states_accuracy)
    return cells_tried(ends, max(SCREENING, numerics.accuracy), *where), fine


def _whole(
    engines: Sequence[dict[str, Engine]],
    cells: ChosenCells | None,
    speeds: np.ndarray,
    store: Store,
    executor: Executor,
) -> list[np.ndarray]:
    """Curves of the cases on these cells; a case in which a point breaks down on them, as short pieces of
    pipe hold hardly a cell, on cells half as long, and half as long again."""
    curves = [_curves(_on(cells, one), True, speeds, store) for one in engines]
    for _ in range(HALVED):
        gaps = [k for k, c in enumerate(curves) if not np.isfinite(c).all()]
        if cells is None or not gaps:
            break
        cells = replace(cells, scale=0.5 * cells.scale)
        again = [(_on(cells, engines[k]), True) for k in gaps]
        _compute([(again, speeds)], store, executor, None)
        for k, one in zip(gaps, again, strict=True):
            curves[k] = _curves(*one, speeds, store)
    return curves


def _on(cells: ChosenCells | None, engines: dict[str, Engine]) -> dict[str, Engine]:
    return engines if cells is None else {n: cells.apply(e) for n, e in engines.items()}


def _compute(
    wanted: Sequence[tuple[Sequence[tuple[dict[str, Engine], bool]], np.ndarray]],
    store: Store,
    executor: Executor,
    progress: ProgressCallback | None,
) -> None:
    """wanted: (engines and whether each speed is started from the one above it, speeds)."""
    tasks = [
        task
        for every, speeds in wanted
        for engines, warm in every
        for engine in engines.values()
        for task in tasks_of(Case((), engine), speeds, warm)
    ]
    compute_missing(tasks, store, executor, progress)


def _curves(engines: dict[str, Engine], warm: bool, speeds: np.ndarray, store: Store) -> np.ndarray:
    """Torque (runners, s), N m, from the store; NaN where a point could not be computed."""
    found = (outcomes_of(Case((), engine), speeds, warm, store) for engine in engines.values())
    return np.array([[o.figure("torque") for o in row] for row in found], dtype=float)


def _off(corrected: np.ndarray, fine: np.ndarray, cells: ChosenCells | None) -> tuple[float, np.ndarray]:
    """Half-widths of what the cells do to a curve and to the difference of each two."""
    least = FINEST if cells is None or not np.isfinite(cells.error) else cells.error
    runners = corrected.shape[1]
    known = np.isfinite(corrected * fine).all(axis=(1, 2)) if fine.size else np.zeros(0, dtype=bool)
    if not known.any():
        return least, np.full((runners, runners), least)
    off = corrected[known] / fine[known] - 1.0
    gaps = off[:, :, None, :] - off[:, None, :, :]
    level, gap = K * float(np.sqrt(np.mean(off**2))), K * np.sqrt(np.mean(gaps**2, axis=(0, 3)))
    return float(np.hypot(level, least)), np.hypot(gap, least)


def _said(coarse: ChosenCells | None, fine: ChosenCells | None) -> str:
    if coarse is None or fine is None:
        return "Cells as the file states them."
    return (
        f"Cases at an accuracy of {percent(coarse.accuracy, '.2g')}, corrected with the file's own engine"
        f" at {percent(fine.accuracy, '.2g')} and checked on {CHECKED} cases."
    )
