"""Cells as long as the accuracy asked for allows, found on the engine itself.

The error of VE and torque falls with the length of the cells h about as h itself (measured on random
engines from 8 times the usual length down to half of it: engine/model/NOTES.md): what limits it are
contacts of hot and fresh gas and the ends, not the smooth waves. With f(h) = f(0) + c h, what halving
the cells changes is half of the error there was:

    |f(h) - f(0)| = 2 |f(h) - f(h/2)|                     (Richardson, Phil. Trans. A 210, 1911)

The engine is computed at three of the speeds asked for on two meshes or three, each of cells half as long
as the one before, and the longest cells are taken whose error, the largest of VE and torque at these
speeds, is within the accuracy; of lengths between two meshes by straight lines between their errors. All
points of a run, and all its candidates, have the same cells: what is compared has the same error.

An accuracy that the file states may take cells shorter than usual, down to half of it. Left out, it is 0.1 %,
and cells are of the usual length at least: nobody waits for digits he did not ask for.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from aircolumn.curves.points import compute_points
from aircolumn.curves.remembered import remembered
from aircolumn.display_units import percent
from aircolumn.engine.description.engine_file import computed_part

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.model.figures import OperatingPoint

FIGURES = ("ve", "torque")
#: Over the usual length: the cells whose error is found, and those there are to choose from.
TRIED, LENGTHS = (8.0, 4.0, 2.0), (8.0, 6.0, 4.0, 3.0, 2.0, 1.5, 1.0, 0.75, 0.5)
PLACES = (0.0, 2.0 / 3.0, 1.0)  # in the range of speeds, where it is tried
TRIED_WITHIN = 0.2  # of the accuracy: how well cycles must repeat where cells are tried
WORTH = 12  # points: for fewer, trying costs more than it saves

#: VE and torque that were tried, by engine (its computed part as JSON), cells and speed.
Kept = dict[tuple[str, float, float], list[Any]]
#: VE and torque (points, 2) on cells so many times as long as usual; NaN where there is no point.
Trial = Callable[[Sequence[float]], dict[float, np.ndarray]]


@dataclass(frozen=True)
class ChosenCells:
    """Cells of ``scale`` times the usual length, the error (relative) that is expected of them, the
    accuracy asked for, the speeds (rev/min) that tell, and whether shorter ones would be taken if the file
    stated its accuracy."""

    scale: float
    error: float
    accuracy: float
    speeds: tuple[float, ...]
    shorter_if_stated: bool = False

    @classmethod
    def of(cls, plain: dict) -> ChosenCells:
        """From plain data (dataclasses.asdict)."""
        return cls(**plain | {"speeds": tuple(plain["speeds"])})

    @property
    def kept(self) -> bool:
        """Whether the accuracy is expected to be kept."""
        return self.error <= self.accuracy

    def apply(self, engine: Engine) -> Engine:
        """The engine with these cells."""
        numerics = engine.numerics
        if numerics.states_cells:
            return engine
        return engine.changed(numerics=numerics.with_cells(self.scale, self.accuracy))

    def __str__(self) -> str:
        length = "of the usual length" if self.scale == 1.0 else f"{self.scale:g} times as long as usual"
        at = ", ".join(f"{n:.0f}" for n in self.speeds)
        if not np.isfinite(self.error):
            return f"Cells {length}; their error could not be told at {at} rpm."
        text = (
            f"Cells {length}: VE and torque within {percent(self.error, '.2g')} of what much finer cells"
            f" would give (tried at {at} rpm)"
        )
        if self.kept:
            return f"{text}."
        if self.shorter_if_stated:
            return f"{text}. Shorter cells are taken if the file states numerics.accuracy."
        return f"{text}, more than the {percent(self.accuracy, '.2g')} asked for."


def with_chosen_cells(
    engines: Sequence[Engine], speeds: Any, workers: int | None = None, kept: Kept | None = None
) -> tuple[list[Engine], str]:
    """(the engines, with cells for all of them chosen on the first and the last, what was found). As they
    are, and "", where the file states its cells or trying would cost more than it saves. kept: points that
    were tried, for another choice when one of the engines has changed."""
    engines = list(engines)
    if engines[0].numerics.states_cells or len(engines) * len(speeds) < WORTH:
        return engines, ""
    tried = engines[:1] + engines[1:][-1:]
    depends_on = [[computed_part(e) for e in tried], list(places_in(speeds))]
    cells = ChosenCells.of(
        remembered("cells", depends_on, lambda: asdict(cells_within(tried, speeds, workers, kept)))
    )
    return [cells.apply(e) for e in engines], str(cells)


def cells_within(
    engines: Sequence[Engine], speeds: ArrayLike, workers: int | None = None, kept: Kept | None = None
) -> ChosenCells:
    """Cells for engines at ``speeds`` (rev/min), the accuracy being that of the first. Raises
    ComputationError if no point could be computed. kept: as for with_chosen_cells."""
    at, known = places_in(speeds), {} if kept is None else kept
    named = [json.dumps(computed_part(e), sort_keys=True) for e in engines]
    places = [(k, n) for k in range(len(engines)) for n in at]

    def trial(scales: Sequence[float]) -> dict[float, np.ndarray]:
        due = [(s, k, n) for s in scales for k, n in places if (named[k], s, n) not in known]
        jobs = [((named[k], s, n), with_scale(engines[k], s), n, 1.0) for s, k, n in due]
        if jobs:
            found, _ = compute_points(jobs, None, workers)
            known.update({key: figures_of(found.get(key)) for key, *_ in jobs})
        return {s: np.array([known[named[k], s, n] for k, n in places]) for s in scales}

    numerics = engines[0].numerics
    return longest_cells(trial, numerics.accuracy, at, stated=numerics.states_accuracy)


def places_in(speeds: ArrayLike) -> tuple[float, ...]:
    """The speeds at which cells are tried."""
    low, high = float(np.min(speeds)), float(np.max(speeds))
    return tuple(dict.fromkeys(low + place * (high - low) for place in PLACES))


def with_scale(engine: Engine, scale: float) -> Engine:
    """The engine as it is tried on one mesh; its cycles must repeat so well that what is left of them is not
    taken for the mesh's error."""
    n = engine.numerics
    within = min(n.repeat_within, TRIED_WITHIN * n.accuracy)
    return engine.changed(numerics=n.changed(cell_scale=scale, repeat_within=within))


def figures_of(point: OperatingPoint | None) -> list[Any]:
    """VE and torque of a point; NaN without one."""
    return [np.nan if point is None else point.figures[name] for name in FIGURES]


def longest_cells(
    trial: Trial, accuracy: float, speeds: tuple[float, ...], stated: bool = True
) -> ChosenCells:
    """The longest cells whose error is within ``accuracy``; the shortest there are if none's is. stated: the
    accuracy is one that the file states."""
    values = trial(TRIED[1:])

    def error(scale: float) -> float:
        wanted = [s for s in (scale, 0.5 * scale) if s not in values]
        values.update(trial(wanted) if wanted else {})
        change = np.abs(values[scale] / values[0.5 * scale] - 1.0)
        return 2.0 * float(np.nanmax(change)) if np.isfinite(change).any() else float("inf")

    coarsest, middle, finest = TRIED
    errors = {middle: error(middle)}
    further = coarsest if errors[middle] <= accuracy else finest
    errors[further] = error(further)
    if not np.isfinite(errors[min(errors)]):
        return ChosenCells(1.0, errors[min(errors)], accuracy, speeds)
    lengths = [s for s in LENGTHS if s <= max(errors) and (stated or s >= 1.0)]
    expected = {s: _between(errors, s) for s in lengths}
    scale = next((s for s in lengths if expected[s] <= accuracy), lengths[-1])
    return ChosenCells(scale, expected[scale], accuracy, speeds, scale > LENGTHS[-1])


def _between(errors: dict[float, float], scale: float) -> float:
    """Error on cells of a length, by those found on two others: straight lines between them, in proportion to
    the length below. Where the longer ones break down, their error has no bound."""
    (short, least), (long, most) = sorted(errors.items())
    if scale <= short:
        return least * scale / short
    return least + (most - least) * (scale - short) / (long - short)
