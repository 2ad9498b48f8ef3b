"""What a tolerance of the varied keys (plus_minus) does to the curve.

The keys are spread evenly over their tolerances (Latin hypercube); the band holds every curve
computed, and the slopes are those of a plane through them (least squares).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import numpy as np
from scipy.stats import qmc

from aircolumn.engine.description.base import whole_number
from aircolumn.errors import ComputationError
from aircolumn.study.models import Asked
from aircolumn.study.points import computed

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Plan
    from aircolumn.study.store import Store


class Tolerance(Asked):
    """What a tolerance (plus_minus) of the varied keys does to the curve."""

    given = "around"

    count: Annotated[int, whole_number(4, 10_000)] = 32
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0

    def cases(self, keys: int) -> int:
        """Curves of the sample."""
        return self.count


@dataclass(frozen=True)
class Band:
    """Torque (N m) and VE over speed (rev/min): as drawn, least and greatest of the curves, and
    slopes {axis name: change of torque per unit as written, N m}; curves: how many."""

    rpm: np.ndarray
    torque: np.ndarray
    torque_low: np.ndarray
    torque_high: np.ndarray
    ve: np.ndarray
    ve_low: np.ndarray
    ve_high: np.ndarray
    slopes: dict[str, np.ndarray]
    curves: int


def tolerance(plan: Plan, store: Store, executor: Executor, progress: ProgressCallback | None = None) -> Band:
    """Compute the band. Raises ComputationError if a curve as drawn or spread fails."""
    asked = plan.study.keys_of(Tolerance)
    shares = qmc.LatinHypercube(len(plan.axes), rng=np.random.default_rng(asked.seed)).random(asked.count)
    rows = [tuple(0.0 for _ in plan.axes), *plan.scaled(shares)]
    table = list(computed(plan, rows, store, executor, progress))
    wrong = [o.reason for row in table for o in row if o.figures is None]
    if wrong:
        raise ComputationError(f"{len(wrong)} points within the tolerance fail: {wrong[0]}")
    torque, ve = (np.array([[o.figure(n) for o in row] for row in table]) for n in ("torque", "ve"))
    plane = np.column_stack([np.ones(len(rows)), np.array(rows)])
    slopes = np.linalg.lstsq(plane, torque, rcond=None)[0][1:]
    return Band(
        plan.speeds,
        torque[0],
        torque.min(axis=0),
        torque.max(axis=0),
        ve[0],
        ve.min(axis=0),
        ve.max(axis=0),
        {a.name: s for a, s in zip(plan.axes, slopes, strict=True)},
        len(rows),
    )
