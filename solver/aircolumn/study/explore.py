"""Engines between those that were computed: a sweep over one key or two, and how far off it is between.

Torque and VE are computed on an even grid of the keys, at every speed, on the cells that ``screening``
allows. Between the points of the grid they are interpolated: by cubic splines (not-a-knot) along each key to
a finer grid, and along straight lines on that, which is what the page does. How far off that is, is seen on
engines in between that are computed as well and take no part in it (held out): a quantile of their relative
errors. Nothing is said beyond the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import RegularGridInterpolator, make_interp_spline
from scipy.stats import qmc

from aircolumn.engine.description.source import Source
from aircolumn.errors import ComputationError
from aircolumn.study.cells import cells_of
from aircolumn.study.models import StudyFile
from aircolumn.study.plan import Plan
from aircolumn.study.points import computed

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.store import Store

FIGURES = ("torque", "ve")
STEPS = (19, 5)  # points of the grid along the first key and the second; a key alone has the first
FINE = 4  # pieces that each step of the grid is cut into
HELD_OUT, SEED = 40, 11
QUANTILE = 0.95
FEWEST_SPEEDS = 19


@dataclass(frozen=True)
class Explored:
    """A sweep that can be asked for any engine within it.

    plan: its keys; rpm: (s,); ends: (least, greatest) of each key as written; tables: figure to an array
    (fine grid of each key..., s), SI; errors: figure to the relative error that QUANTILE of the held-out
    points stay within; held_out: how many engines these are; points: computed in all.
    """

    plan: Plan
    rpm: np.ndarray
    ends: list[tuple[float, float]]
    tables: dict[str, np.ndarray]
    errors: dict[str, float]
    held_out: int
    points: int

    def at(self, figure: str, shares: Any) -> np.ndarray:
        """A figure over speed of engines at ``shares`` (n, keys), 0 to 1 of the spans: (n, s)."""
        return at_shares(self.tables[figure], np.asarray(shares, dtype=float))


def explore_plan(
    path: Path,
    spans: dict[str, tuple[str, str]],
    speeds: Sequence[float] | None,
    runner: str | None = None,
) -> Plan:
    """The plan of an engine file, {key: (from, to)} and the candidate to vary (None: the file's own runner,
    or the one whose key is varied). Raises InputError."""
    study: dict[str, Any] = {
        "engine": path.name,
        "runner": runner,
        "vary": {key: {"from": a, "to": b} for key, (a, b) in spans.items()},
        "sample": {"count": 1},
    }
    if speeds is not None:
        study["speeds"] = [f"{n:g} rpm" for n in speeds]
    return Plan(Source(path, study), StudyFile.model_validate(study))


def explore(
    plan: Plan, store: Store, executor: Executor, progress: ProgressCallback | None = None
) -> Explored:
    """Compute the grid and the held-out engines, or take them from the store. Raises ComputationError if a
    point cannot be computed."""
    steps = STEPS[: len(plan.axes)]
    lines = [np.linspace(0.0, 1.0, n) for n in steps]
    grid = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, len(lines))
    sample = qmc.LatinHypercube(len(lines), rng=np.random.default_rng(SEED)).random(HELD_OUT)
    cells = cells_of(plan, store, executor)
    shares = np.concatenate([grid, sample])
    found = computed(plan.on(cells.screening), plan.scaled(shares), store, executor, progress)
    curves: dict[str, list] = {name: [] for name in FIGURES}
    for row in found:
        wrong = next((o.reason for o in row if o.figures is None), None)
        if wrong is not None:
            raise ComputationError(f"an engine within the spans cannot be computed ({wrong}); narrow them")
        for name in FIGURES:
            curves[name].append([o.figure(name) for o in row])
    tables, errors = {}, {}
    for name in FIGURES:
        whole = np.array(curves[name])
        tables[name] = refined(whole[: len(grid)].reshape(*steps, -1))
        due = whole[len(grid) :]
        off = np.abs(at_shares(tables[name], sample) / due - 1.0)
        errors[name] = float(np.quantile(off, QUANTILE))
    count = len(shares) * len(plan.speeds)
    return Explored(plan, plan.speeds, [a.ends for a in plan.axes], tables, errors, HELD_OUT, count)


def refined(table: np.ndarray) -> np.ndarray:
    """A table on an even grid (keys..., s) on one FINE times finer, by splines along each key."""
    for axis in range(table.ndim - 1):
        n = table.shape[axis]
        spline = make_interp_spline(np.linspace(0.0, 1.0, n), table, k=min(3, n - 1), axis=axis)
        table = spline(np.linspace(0.0, 1.0, FINE * (n - 1) + 1))
        table = np.moveaxis(table, 0, axis) if table.shape[axis] != FINE * (n - 1) + 1 else table
    return table


def at_shares(table: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """Straight lines between the points of a table (keys..., s), at shares (n, keys): (n, s)."""
    lines = tuple(np.linspace(0.0, 1.0, n) for n in table.shape[:-1])
    return RegularGridInterpolator(lines, table, method="linear")(shares)
