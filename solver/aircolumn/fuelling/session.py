"""The control unit's table of a manifold, from an engine file to cells, with a store of points in a
folder."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.errors import RequestError, no_such
from aircolumn.fuelling.at_load import AtLoad, Throttled, cells_for_load, filling_at_load
from aircolumn.fuelling.filling import air_of, filling_of
from aircolumn.fuelling.metering import Metered, metered
from aircolumn.fuelling.transfer import Transferred, doubt_of, transferred
from aircolumn.study.executors import Cores
from aircolumn.study.store import store_in

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description
    from aircolumn.fuelling.table_file import UserTable
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor

LOADS, SPEEDS = 16, 16  # of a table whose axes nobody states
LOWEST = 25e3  # Pa, of manifold pressures
CASES = 24  # engines that the file's may be


@dataclass(frozen=True)
class ControlTable:
    """All that was found of a manifold, arrays (speeds, loads).

    name: of the manifold; referred_to: what filling is of (filling.py); at: its cells; filling: as predicted;
    air: kg a cylinder and cycle; target: lambda; metered: what injectors have to do; tuned: the table of the
    manifold ``old`` and ``moved``: the same for this one; cells: how they were chosen; fresh, before,
    seconds: points computed now and taken from the store, and how long it took."""

    name: str
    referred_to: str
    at: AtLoad
    filling: np.ndarray
    air: np.ndarray
    target: float
    metered: Metered | None
    old: str
    tuned: UserTable | None
    moved: Transferred | None
    cells: str
    fresh: int
    before: int
    seconds: float


def control_table(
    description: Description,
    name: str,
    folder: str | Path,
    tuned: UserTable | None = None,
    old: str = "",
    executor: Executor | None = None,
    count: int = CASES,
    progress: ProgressCallback | None = None,
) -> ControlTable:
    """The table of a manifold, and the tuned one of another made into it.

    Parameters
    ----------
    description : Description
        Of the engine file (load), with both among its candidates.
    name : str
        The manifold that the table is for.
    folder : str or Path
        Where finished points are kept (made if need be): the same call goes on from them.
    tuned, old : optional
        The table that was tuned (read_user_table), and with which manifold. The new table has its axes; left
        out, those of the file's section ``fuelling``.
    executor : optional
        Where to compute (study/executors.py); all cores of this machine if left out.
    count : int
        Engines that fit the file, for how well the quotient of the two manifolds is known.
    progress : callable, optional
        Called as progress(points done, points) in each stage.

    Returns
    -------
    ControlTable

    Raises
    ------
    RequestError, ComputationError
        For a manifold that there is not, an engine without throttle or plenum, points that fail.
    """
    names = [name] if tuned is None else [old, name]
    for one in names:
        if one not in description.runners:
            raise RequestError(no_such("runner", one, description.runners))
    if tuned is not None and old == name:
        raise RequestError(f"'{name}' is the manifold that the table was tuned with: name another")
    rpm, loads, by_opening = _axes(description, tuned)
    engines, begun = {n: description.with_runner(n) for n in names}, monotonic()
    asked = engines[name].fuelling
    executor = executor or Cores()
    with closing(store_in(folder)) as store:
        cells = cells_for_load(list(engines.values()), rpm, store, executor)
        tables = {
            n: filling_at_load(Throttled(e, cells), rpm, loads, by_opening, store, executor, progress)
            for n, e in engines.items()
        }
        predicted = {n: filling_of(t.figures, engines[n], asked.filling) for n, t in tables.items()}
        moved = None
        if tuned is not None:
            both = tables[old], tables[name]
            doubt = doubt_of(
                description, (old, name), both, cells, asked.filling, count, store, executor, progress
            )
            moved = transferred(tuned.values, predicted[name] / predicted[old], doubt)
        fresh, before = store.written, len(store.asked) - store.written
    at, engine = tables[name], engines[name]
    air = air_of(at.figures, engine, rpm[:, None] * np.ones(len(loads)))
    target = asked.lambda_target or engine.mixture.relative
    if moved is not None:  # what will be metered is what the table says
        air = air * moved.values / predicted[name]
    metering = None
    if asked.injectors is not None:
        pressure = at.figures["plenum_pressure"]
        metering = metered(engine, asked.injectors, air, pressure, rpm, np.full(air.shape, target))
    return ControlTable(
        name,
        asked.filling,
        at,
        predicted[name],
        air,
        target,
        metering,
        old,
        tuned,
        moved,
        "" if cells is None else str(cells),
        fresh,
        before,
        monotonic() - begun,
    )


def _axes(description: Description, tuned: UserTable | None) -> tuple[np.ndarray, np.ndarray, bool]:
    """(speeds, loads, whether these are throttle openings) of the table."""
    if tuned is not None:
        return tuned.rpm, tuned.loads, tuned.by_opening
    engine = description.engine
    asked, speeds = engine.fuelling, engine.speeds
    rpm = np.array(asked.speeds or np.linspace(speeds.start, speeds.stop, SPEEDS).round())
    if asked.openings is not None:
        return rpm, np.array(asked.openings), True
    most = engine.intake.ambient.pressure
    return rpm, np.array(asked.pressures or np.linspace(LOWEST, most, LOADS).round(-2)), False
