"""Which varied key matters for an aim: Sobol's first-order and total indices.

First order S1: share of the aim's variance that a key makes alone; total ST: with all its
interactions (Sobol 2001, Math. Comput. Simul. 55), from the samples of Saltelli et al. 2010,
Comput. Phys. Commun. 181, through the SALib library, with its bootstrap intervals (95 %).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from math import ceil, log2
from typing import TYPE_CHECKING, Annotated, Any, Self

import numpy as np
from pydantic import model_validator

from aircolumn.engine.description.base import whole_number
from aircolumn.errors import ComputationError, RequestError
from aircolumn.questions.aims import Aim, value_of
from aircolumn.study.models import Asked
from aircolumn.study.points import computed

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Plan
    from aircolumn.study.store import Store

ROUNDING = 1e-3  # the smallest difference of indices that is shown
SMALL, NARROW = 0.1, 0.1  # an index that hardly counts; half-width of an interval that will do


class Sensitivity(Asked):
    """Which key matters: Sobol indices of an aim (count: a power of two)."""

    aim: Aim = Aim()
    count: Annotated[int, whole_number(8, 65536)] = 64
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0

    @model_validator(mode="after")
    def _power(self) -> Self:
        if self.count & (self.count - 1):
            raise ValueError(f"count must be a power of two, not {self.count}")
        return self

    def cases(self, keys: int) -> int:
        """Curves of Saltelli's sample."""
        return self.count * (keys + 2)


@dataclass(frozen=True)
class Indices:
    """Indices and the half-widths of their intervals, in order of the names; the aim's mean and
    standard deviation over the spans."""

    names: Sequence[str]
    first: np.ndarray
    first_wide: np.ndarray
    total: np.ndarray
    total_wide: np.ndarray
    mean: float
    deviation: float


@dataclass(frozen=True)
class Sensitive:
    """What the aim is sensitive to."""

    aim: Aim
    indices: Indices


def unsettled(found: Indices) -> dict[str, str]:
    """{key: why its indices cannot be taken as they are}: a first order above the total, which no
    function has, or an interval wider than a value that would count."""
    reasons = {}
    for k, name in enumerate(found.names):
        first, total = found.first[k], found.total[k]
        if first > total + ROUNDING:
            reasons[name] = "first order above total"
        elif found.total_wide[k] > max(total, SMALL) or found.first_wide[k] > max(first, SMALL):
            reasons[name] = "an interval wider than its value"
    return reasons


def count_needed(found: Indices, count: int) -> int:
    """Samples, a power of two, that would narrow all intervals to NARROW: they shrink with the root
    of the count."""
    widest = max(*found.first_wide, *found.total_wide, NARROW)
    return max(2 * count, 2 ** ceil(log2(count * (widest / NARROW) ** 2)))


def need_salib() -> None:
    """Raise RequestError if the ``sensitivity`` extra is not installed."""
    if find_spec("SALib") is None:
        raise RequestError("a sensitivity study needs SALib: pip install 'aircolumn[sensitivity]'")


def sobol_indices(names: Sequence[str], values_at: Any, count: int, seed: int) -> Indices:
    """Indices of a function of shares 0 to 1. values_at: array (n, k) -> array (n,)."""
    need_salib()
    from SALib.analyze import sobol as analyze
    from SALib.sample import sobol as sample

    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
    shares = sample.sample(problem, count, calc_second_order=False, seed=seed)
    values = np.asarray(values_at(shares), dtype=float)
    failed = int(np.sum(~np.isfinite(values)))
    if failed:
        raise ComputationError(
            f"{failed} of {len(values)} curves have no value for the aim, and the indices need all"
            " of them; narrow the spans"
        )
    # A seed of 0 would be none: intervals would differ from run to run.
    found = analyze.analyze(problem, values, calc_second_order=False, seed=seed + 1)
    return Indices(
        names,
        found["S1"],
        found["S1_conf"],
        found["ST"],
        found["ST_conf"],
        float(values.mean()),
        float(values.std()),
    )


def sensitivity(
    plan: Plan, aim: Aim, store: Store, executor: Executor, progress: ProgressCallback | None = None
) -> Indices:
    """Indices of a checked aim (aims.check_aim). Points come from the store or go there."""
    asked = plan.study.keys_of(Sensitivity)

    def values_at(shares: Any) -> Any:
        table = computed(plan, plan.scaled(shares), store, executor, progress)
        curves = [[o.figure("torque") for o in row] for row in table]
        return [value_of(aim, plan.speeds, np.array(c)) for c in curves]

    return sobol_indices([a.name for a in plan.axes], values_at, asked.count, asked.seed)
