"""How sure a comparison is, from an engine file to the verdict, with a store of points in a folder."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.given import description_of
from aircolumn.errors import RequestError, no_such
from aircolumn.study.bands.cases import Cases
from aircolumn.study.bands.ensemble import Ensemble, ensemble
from aircolumn.study.bands.measure_next import NextMeasurements, measure_next
from aircolumn.study.bands.verdict import Verdict, judged
from aircolumn.study.executors import Cores
from aircolumn.study.store import store_in

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor

USUAL, FEWEST, MOST = 48, 40, 4096  # cases; fewer than FEWEST have no 2.5 % quantile


@dataclass(frozen=True)
class HowSure:
    """All that was found: cases, curves, verdict, what to measure next; points computed now and taken from
    the store, and seconds it took."""

    cases: Cases
    curves: Ensemble
    verdict: Verdict
    next: NextMeasurements
    fresh: int
    before: int
    seconds: float


def how_sure(
    description: Description,
    speeds: np.ndarray,
    folder: str | Path,
    executor: Executor | None = None,
    count: int = USUAL,
    base: str | None = None,
    progress: ProgressCallback | None = None,
) -> HowSure:
    """How sure the comparison of a file's runners is.

    Parameters
    ----------
    description : Description
        Of the engine file (load).
    speeds : array
        Engine speeds, rev/min, rising.
    folder : str or Path
        Where finished points are kept (made if need be): the same call goes on from them.
    executor : optional
        Where to compute (study/executors.py); all cores of this machine if left out.
    count : int
        Cases: engines that the file's may be.
    base : str, optional
        Runner to set the others against; left out: the one with the highest mean torque.
    progress : callable, optional
        Called as progress(points done, points).

    Returns
    -------
    HowSure

    Raises
    ------
    InputError, RequestError, ComputationError
        For a plus_minus where there can be none, a request that cannot be met, points that fail.
    """
    description = description_of(description, "its candidates are compared")
    if not FEWEST <= count <= MOST:
        raise RequestError(f"{count} cases: from {FEWEST} to {MOST} are possible")
    if base is not None and base not in description.runners:
        raise RequestError(no_such("runner", base, description.runners))
    cases, start = Cases.of(description), monotonic()
    if not cases.names:
        raise RequestError(f"{description.path} leaves nothing open: there is nothing to be unsure of")
    with closing(store_in(folder)) as store:
        curves = ensemble(cases, speeds, count, store, executor or Cores(), progress)
        fresh, before = store.written, len(store.asked) - store.written
    found = judged(curves, description.engine.speeds, base)
    wrong = 1.0 - found.best[found.choice]
    following = measure_next(cases, curves.numbers, found.means, wrong)
    return HowSure(cases, curves, found, following, fresh, before, monotonic() - start)
