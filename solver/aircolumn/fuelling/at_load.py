"""Filling over engine speed and load, the throttle being where it gives the manifold pressure asked for.

At every speed the throttle is closed in steps, each cycle started from those before it (wide open first): so
the manifold pressure is known over the throttle's open area. What the area must be for a pressure is read off
there (a monotone cubic through the logarithm of the area: scipy.interpolate.PchipInterpolator; Fritsch &
Carlson 1980, SIAM J. Numer. Anal. 17) and computed; where the pressure comes out further off than NEAR, it is
read off again with what is known by then. Pressures above that of the open throttle are out of reach, and so
are those that the engine does not come down to before more than MOST_RESIDUAL of its charge is burned gas,
with which none burns, or before it draws less than LEAST_FILLING of what they would fill: they are not made
up.

The least area that is looked at is that through which, choked, just so little flows:

    LEAST_FILLING (pm/p0) Vd n/120 r0 = Cd A x choked mass flux (flow/ends/nozzle.py)     Vd: of all cylinders
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import PchipInterpolator

from aircolumn.constants import AIR_GAMMA
from aircolumn.engine.description.base import required
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.inlet import outside_density
from aircolumn.errors import ComputationError, RequestError
from aircolumn.flow.ends.nozzle import mass_flux
from aircolumn.flow.ends.throttle import butterfly_area
from aircolumn.fuelling.stages import Stages
from aircolumn.sources import solver_version
from aircolumn.study.cells import cells_tried
from aircolumn.study.points import compute_missing
from aircolumn.study.tasks import NAMES, Task

if TYPE_CHECKING:
    from aircolumn.curves.accuracy import ChosenCells
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.study.executors import Executor
    from aircolumn.study.store import Store
    from aircolumn.study.tasks import Outcome

ACCURACY = 0.005  # of VE, by the cells; finer where the file asks for it
REPEATS = 1e-3  # how well cycles must repeat: at low load they come to rest slowly
NEAR = 150.0  # Pa that a manifold pressure may be off what was asked
STEPS, LEAST_AREA = 9, 0.004  # of the throttle: from wide open down to this share of its open area at least
LEAST_FILLING = 0.3  # referred to the manifold
MOST_RESIDUAL = 0.5  # of the charge; spark ignition mostly fails from 0.3 to 0.4 (common practice, no source)
AGAIN = 8  # times at most that an angle is read off again; where cycles repeat only so well it takes some


@dataclass(frozen=True)
class AtLoad:
    """Cells of a table, (speeds, loads): the throttle's angle, deg, and the figures (point_figures.py), NaN
    out of reach. rpm: (s,), rev/min; loads: (l,), Pa of manifold pressure, or shares of throttle opening
    where ``by_opening``; open: figures wide open, (s,)."""

    rpm: np.ndarray
    loads: np.ndarray
    by_opening: bool
    angle: np.ndarray
    figures: dict[str, np.ndarray]
    open: dict[str, np.ndarray]

    @property
    def reached(self) -> np.ndarray:
        """Whether each cell could be computed."""
        return np.isfinite(self.angle)


def cells_for_load(
    engines: Sequence[Engine], rpm: np.ndarray, store: Store, executor: Executor
) -> ChosenCells | None:
    """Cells that keep VE of these engines within ACCURACY; None where the file states its own."""
    numerics = engines[0].numerics
    if numerics.states_cells:
        return None
    return cells_tried(engines, max(ACCURACY, numerics.accuracy), rpm, store, executor)


class Throttled:
    """An engine with its throttle anywhere, on some cells. Raises RequestError if it has none."""

    def __init__(self, engine: Engine, cells: ChosenCells | None, repeats: float = REPEATS) -> None:
        intake = engine.intake
        if intake.throttle is None or intake.plenum is None:
            raise RequestError("filling over load needs intake.throttle and intake.plenum in the engine file")
        engine = engine if cells is None else cells.apply(engine)
        n = engine.numerics
        self.engine = engine.changed(numerics=n.changed(repeat_within=max(repeats, n.repeat_within)))
        self.throttle = intake.throttle

    def at(self, angle: float) -> Engine:
        """With the blade at an angle, deg."""
        throttle = self.throttle.changed(angle=float(angle))
        return self.engine.with_intake(throttle=throttle)

    def area(self, angle: float) -> float:
        """Open area, m2."""
        t = self.throttle
        return butterfly_area(t.bore, t.shaft, angle, t.closed_angle)

    def angle_of(self, areas: np.ndarray) -> np.ndarray:
        """The angles, deg, that leave these areas open, m2."""
        return np.interp(areas, *self._areas)

    @cached_property
    def _areas(self) -> tuple[np.ndarray, np.ndarray]:
        """(areas, angles) from shut to the angle of the file."""
        angles = np.linspace(self.throttle.closed_angle + 1e-3, self.throttle.angle, 2001)
        return np.array([self.area(a) for a in angles]), angles

    def opened(self, share: float) -> float:
        """The angle, deg, at a share of the way from shut (0) to the angle of the file (1)."""
        t = self.throttle
        return max(t.closed_angle + share * (t.angle - t.closed_angle), t.closed_angle + 0.1)

    def down_from_open(self, rpm: float, lowest: float) -> np.ndarray:
        """Angles from wide open on down whose areas shrink by the same factor, for pressures down to the
        ``lowest``, Pa."""
        wide, air = self.area(self.throttle.angle), self.engine.intake.source
        volume = geometry_of(self.engine).swept * self.engine.block.cylinders * rpm / 120.0  # m3/s
        density = outside_density(self.engine)
        drawn = LEAST_FILLING * lowest / air.pressure * volume * density  # kg/s
        flux = mass_flux(air.pressure, density, AIR_GAMMA, 0.0)
        least = drawn / (self.throttle.discharge_coefficient * flux)
        return self.angle_of(np.geomspace(1.0, np.clip(least / wide, LEAST_AREA, 0.5), STEPS) * wide)

    def task(self, rpm: float, angles: Sequence[float]) -> Task:
        """Points at these angles, each started from those before it."""
        points = tuple((float(np.log(self.area(a))), self.at(a), float(rpm)) for a in angles)
        return Task(points, solver_version())


def filling_at_load(
    throttled: Throttled,
    rpm: np.ndarray,
    loads: np.ndarray,
    by_opening: bool,
    store: Store,
    executor: Executor,
    stages: Stages | None = None,
) -> AtLoad:
    """Compute a table, or take its points from the store.

    Parameters
    ----------
    rpm, loads : array
        Speeds, rev/min, and manifold pressures, Pa, or shares of throttle opening, 0 to 1; rising.

    Raises
    ------
    ComputationError
        If the open throttle cannot be computed at a speed.
    """
    search = _Search(throttled, rpm, store, executor, stages or Stages())
    if by_opening:
        search.look({n: [throttled.opened(s) for s in loads[::-1]] for n in rpm})
        chosen = {n: [throttled.opened(s) for s in loads] for n in rpm}
    else:
        search.look({n: list(throttled.down_from_open(n, loads[0])) for n in rpm})
        for _ in range(AGAIN):
            wanted = {n: search.wanted(n, loads) for n in rpm}
            if not any(wanted.values()):
                break
            search.look(wanted)
        chosen = {n: [search.nearest(n, p) for p in loads] for n in rpm}
    return search.table(chosen, loads, by_opening)


def runs_at(outcome: Outcome) -> bool:
    """Whether a point was computed, and is one at which an engine runs."""
    return outcome.figures is not None and outcome.figure("residual") <= MOST_RESIDUAL


class _Search:
    """Points at angles of the throttle, by speed."""

    def __init__(
        self,
        throttled: Throttled,
        rpm: np.ndarray,
        store: Store,
        executor: Executor,
        stages: Stages,
    ) -> None:
        self.throttled, self.rpm, self.store, self.executor = throttled, rpm, store, executor
        self.stages = stages
        self.found: dict[float, dict[float, Outcome]] = {n: {} for n in rpm}

    def look(self, angles: dict[float, list[float]]) -> None:
        """Compute what is asked of each speed, from the widest angle on down."""
        tasks = {n: self.throttled.task(n, sorted(set(a), reverse=True)) for n, a in angles.items() if a}
        progress = self.stages.next(sum(len(task.points) for task in tasks.values()))
        compute_missing(list(tasks.values()), self.store, self.executor, progress)
        for n, task in tasks.items():
            keys = task.keys()
            stored = self.store.get(keys)
            for (_, engine, _), key in zip(task.points, keys, strict=True):
                self.found[n][required(engine.intake.throttle).angle] = stored[key]

    def known(self, rpm: float) -> list[tuple[float, float]]:
        """(angle, manifold pressure) of the points of a speed, by angle: from wide open on down to the first
        at which it does not burn."""
        rows = []
        for angle, outcome in sorted(self.found[rpm].items(), reverse=True):
            if outcome.figures is not None:
                rows.append((angle, outcome.figure("plenum_pressure")))
                if not runs_at(outcome):
                    break
        return rows[::-1]

    def wanted(self, rpm: float, pressures: np.ndarray) -> list[float]:
        """Angles to look at for the pressures that no point of a speed is near enough to."""
        rows = self.known(rpm)
        if not rows or rows[-1][0] < self.throttled.throttle.angle:
            raise ComputationError(f"the open throttle cannot be computed at {rpm:g} rpm")
        angle, pressure = np.array(rows).T
        rising = np.concatenate([[True], np.diff(np.maximum.accumulate(pressure)) > 0.0])
        angle, pressure = angle[rising], pressure[rising]
        due = [p for p in pressures if np.min(np.abs(pressure - p)) > NEAR and pressure[0] < p < pressure[-1]]
        if not due or len(angle) < 2:
            return []
        area = PchipInterpolator(pressure, np.log([self.throttled.area(a) for a in angle]))(due)
        return [float(a) for a in self.throttled.angle_of(np.exp(area))]

    def nearest(self, rpm: float, pressure: float) -> float:
        """The angle whose pressure is as asked; NaN if none's is within NEAR."""
        rows = self.known(rpm)
        angle, at = min(rows, key=lambda row: abs(row[1] - pressure))
        return angle if abs(at - pressure) <= NEAR else float("nan")

    def table(self, chosen: dict[float, list[float]], loads: np.ndarray, by_opening: bool) -> AtLoad:
        """The figures at the chosen angles."""
        angle = np.array([chosen[n] for n in self.rpm])
        figures = {name: np.full(angle.shape, np.nan) for name in NAMES}
        for i, n in enumerate(self.rpm):
            for j, a in enumerate(chosen[n]):
                outcome = self.found[n].get(a)
                if outcome is None or not runs_at(outcome):
                    angle[i, j] = np.nan
                    continue
                for name in NAMES:
                    figures[name][i, j] = outcome.figure(name)
        widest = [self.found[n][max(self.found[n])] for n in self.rpm]
        wide_open = {name: np.array([o.figure(name) for o in widest]) for name in NAMES}
        return AtLoad(self.rpm, loads, by_opening, angle, figures, wide_open)
