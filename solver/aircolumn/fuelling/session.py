"""The control unit's table of a manifold, from an engine file to cells, with a store of points in a
folder."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.points import compute_points
from aircolumn.errors import RequestError, no_such
from aircolumn.fuelling.at_load import AtLoad, Throttled, cells_for_load, filling_at_load
from aircolumn.fuelling.filling import air_of, filling_of
from aircolumn.fuelling.logged import LogAsks, TableCells, asked_by, log_of
from aircolumn.fuelling.metering import Metered, metered
from aircolumn.fuelling.stages import Stages
from aircolumn.fuelling.transfer import PLACES, Transferred, doubt_of, speeds_of_band, transferred
from aircolumn.study.executors import Cores
from aircolumn.study.store import store_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from aircolumn.curves.accuracy import ChosenCells
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description
    from aircolumn.engine.description.text_file import AsRead
    from aircolumn.fuelling.table_file import UserTable
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.store import Store

LOADS, SPEEDS = 16, 16  # of a table whose axes nobody states
LOWEST = 25e3  # Pa, of manifold pressures
CASES = 24  # engines that the file's may be


@dataclass(frozen=True)
class UsersOwn:
    """What there is already: ``table`` as it was tuned, with the manifold ``old`` (or with the one that is
    asked of, where pulls were run with it); target: lambda to be metered; pulls: data files run with the
    manifold that is asked of."""

    table: UserTable | None = None
    old: str = ""
    target: UserTable | None = None
    pulls: Sequence[Path] = ()


@dataclass(frozen=True)
class ControlTable:
    """All that was found of a manifold, arrays (speeds, loads).

    name: of the manifold; referred_to: what filling is of (filling.py); at: its cells; filling: as predicted;
    air: kg a cylinder and cycle; target: lambda; metered: what injectors have to do; own: what there was
    already; moved: its table made into that of this manifold; trim: fuel of each cylinder over the mean, less
    1, at full load, (speeds, cylinders), where all cylinders are computed; log: what pulls ask of it; cells:
    how they were chosen; fresh, before, seconds: points computed now and taken from the store, and how long
    it took."""

    name: str
    referred_to: str
    at: AtLoad
    filling: np.ndarray
    air: np.ndarray
    target: np.ndarray
    metered: Metered | None
    own: UsersOwn
    moved: Transferred | None
    trim: np.ndarray | None
    log: LogAsks | None
    cells: str
    fresh: int
    before: int
    seconds: float

    @property
    def values(self) -> np.ndarray:
        """Filling as the table has it: made from the tuned one, the tuned one, or as predicted."""
        return _values(self.own, self.moved, self.filling)

    @property
    def files(self) -> list[AsRead]:
        """The data files that pulls were read of."""
        return [] if self.log is None else list(self.log.file.files)


def _values(own: UsersOwn, moved: Transferred | None, filling: np.ndarray) -> np.ndarray:
    if moved is not None:
        return moved.values
    return filling if own.table is None else own.table.values


def control_table(
    description: Description,
    name: str,
    folder: str | Path,
    own: UsersOwn | None = None,
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
    own : UsersOwn, optional
        Tables (read_user_table) and pulls that there are. The table that is made has the axes of the tuned
        one; left out, those of the file's section ``fuelling``.
    executor : optional
        Where to compute (study/executors.py); all cores of this machine if left out.
    count : int
        Engines that fit the file, for how well the quotient of the two manifolds is known.
    progress : callable, optional
        Called as progress(points done, points), as far as these are known.

    Returns
    -------
    ControlTable

    Raises
    ------
    RequestError, InputError, ComputationError
        For a manifold that there is not, an engine without throttle or plenum, tables or pulls that do not
        go with it, points that fail.
    """
    own, begun = own or UsersOwn(), monotonic()
    names = manifolds_asked(description, name, own)
    engines = {n: description.with_runner(n) for n in names}
    engine = engines[name]
    axes = _axes(description, own)
    rpm, loads, _ = axes
    # What is wrong with the pulls is told before anything is computed.
    log = log_of(own.pulls, engine, name, rpm) if own.pulls else None
    target = _target(engine, own, axes)
    with closing(store_in(folder)) as store:
        due = 0 if len(names) == 1 else 2 * count * speeds_of_band(len(rpm)) * len(PLACES)
        stages = Stages(progress, due)
        work = _Work(description, engines, store, executor or Cores(), count, stages)
        cells = cells_for_load(list(engines.values()), rpm, store, work.executor)
        tables = {n: work.table(e, axes, cells) for n, e in engines.items()}
        moved = None if len(names) == 1 else work.moved(own, tables, cells)
        fresh, before = store.written, len(store.asked) - store.written
    at, referred_to = tables[name], engine.fuelling.filling
    filling = filling_of(at.figures, engine, referred_to)
    values = _values(own, moved, filling)
    # What will be metered is what the table says.
    air = air_of(at.figures, engine, rpm[:, None] * np.ones(len(loads))) * values / filling
    injectors, pressure = engine.fuelling.injectors, at.figures["plenum_pressure"]
    return ControlTable(
        name,
        referred_to,
        at,
        filling,
        air,
        target,
        None if injectors is None else metered(engine, injectors, air, pressure, rpm, target),
        own,
        moved,
        trim_of(engine if cells is None else cells.apply(engine), rpm, stages.next(len(rpm))),
        None if log is None else asked_by(log, engine, at, TableCells(values, target), referred_to),
        "" if cells is None else str(cells),
        fresh,
        before,
        monotonic() - begun,
    )


@dataclass(frozen=True)
class _Work:
    """Where and of what the tables are computed."""

    description: Description
    engines: dict[str, Engine]
    store: Store
    executor: Executor
    count: int
    stages: Stages

    def table(
        self, engine: Engine, axes: tuple[np.ndarray, np.ndarray, bool], cells: ChosenCells | None
    ) -> AtLoad:
        """Of one manifold."""
        return filling_at_load(Throttled(engine, cells), *axes, self.store, self.executor, self.stages)

    def moved(self, own: UsersOwn, tables: dict[str, AtLoad], cells: ChosenCells | None) -> Transferred:
        """The tuned table of the first made into that of the second."""
        (old, first), (name, second) = tables.items()
        way = self.engines[name].fuelling.filling
        predicted = [filling_of(t.figures, self.engines[n], way) for n, t in tables.items()]
        doubt = doubt_of(
            self.description,
            (old, name),
            (first, second),
            cells,
            way,
            self.count,
            self.store,
            self.executor,
            self.stages,
        )
        assert own.table is not None
        return transferred(own.table.values, predicted[1] / predicted[0], doubt)


def trim_of(engine: Engine, rpm: np.ndarray, progress: ProgressCallback | None = None) -> np.ndarray | None:
    """Air that each cylinder traps over the mean of all, less 1, with the throttle wide open, (speeds,
    cylinders); NaN where a speed fails. None of an engine of which one cylinder stands for all."""
    if not engine.computes_every_cylinder or engine.block.cylinders == 1:
        return None
    found, _ = compute_points([(k, engine, float(n), 1.0) for k, n in enumerate(rpm)], progress)
    each = np.full((len(rpm), engine.block.cylinders), np.nan)
    for k, point in found.items():
        each[k] = point.ve_cylinder / np.mean(point.ve_cylinder) - 1.0
    return each


def manifolds_asked(description: Description, name: str, own: UsersOwn) -> list[str]:
    """The manifolds to compute: the one that is asked of last. Raises RequestError."""
    same = own.table is not None and own.old == name
    names = [name] if own.table is None or same else [own.old, name]
    for one in names:
        if one not in description.runners:
            raise RequestError(no_such("runner", one, description.runners))
    if same and not own.pulls:
        raise RequestError(
            f"'{name}' is the manifold that the table was tuned with: name another, or pulls that were run"
            " with it"
        )
    return names


def _target(engine: Engine, own: UsersOwn, axes: tuple[np.ndarray, np.ndarray, bool]) -> np.ndarray:
    """Lambda to be metered, at the table's cells. Raises RequestError for a table of another kind of load."""
    rpm, loads, by_opening = axes
    if own.target is None:
        one = engine.fuelling.lambda_target or engine.mixture.relative
        return np.full((len(rpm), len(loads)), one)
    if own.target.by_opening != by_opening:
        kinds = {True: "throttle openings", False: "manifold pressures"}
        raise RequestError(
            f"{own.target.path} has {kinds[own.target.by_opening]}, the table {kinds[by_opening]}: give both"
            " over the same"
        )
    return own.target.at(rpm, loads)


def _axes(description: Description, own: UsersOwn) -> tuple[np.ndarray, np.ndarray, bool]:
    """(speeds, loads, whether these are throttle openings) of the table."""
    if own.table is not None:
        return own.table.rpm, own.table.loads, own.table.by_opening
    engine = description.engine
    asked, speeds = engine.fuelling, engine.speeds
    rpm = np.array(asked.speeds or np.linspace(speeds.start, speeds.stop, SPEEDS).round())
    if asked.openings is not None:
        return rpm, np.array(asked.openings), True
    most = engine.intake.ambient.pressure
    return rpm, np.array(asked.pressures or np.linspace(LOWEST, most, LOADS).round(-2)), False
