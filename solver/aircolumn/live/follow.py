"""Curves that follow the hand: coarse ones at once, those of the file's accuracy when it rests.

Coarse: long cells, cycles that repeat within COARSE, each speed started from where it last ended, which a
small change hardly moves. At the file's accuracy: the cells and the speeds of ``compare``, from rest, so that
figures are those of ``compare`` to the last digit (curves/grown.py: a point does not hang on what it is
computed with). Work that a newer change has made useless is given up between two points.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.accuracy import Kept, with_chosen_cells
from aircolumn.curves.choice import choice_of
from aircolumn.curves.grown import Grown
from aircolumn.curves.interest import all_speeds, interest
from aircolumn.curves.points import PointGrid
from aircolumn.curves.speeds import even_speeds, speeds_of
from aircolumn.curves.summary import peak
from aircolumn.curves.to_xarray import curve_dataset
from aircolumn.engine.model.stretches import Marched, Stretch, march
from aircolumn.errors import ComputationError
from aircolumn.output.curves.choice import choice_sentences

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description
    from aircolumn.engine.model.figures import OperatingPoint

CELLS, COARSE = 6.0, 5e-3  # times the usual length; of cycles that repeat
COARSE_SPEEDS = 25
FIGURES = ("torque", "power", "ve")


class GivenUp(Exception):
    """A newer change has made this useless."""


@dataclass
class Curve:
    """Points of one candidate at rising speeds; ends: where each speed ended, to start from."""

    engine: Engine
    rpm: np.ndarray
    points: list[OperatingPoint | None]
    reasons: list[str]
    ends: dict[float, Any] = field(default_factory=dict)

    def told(self, name: str, span: Any, accuracy: str) -> dict[str, Any]:
        """What the page shows of it, SI; null where there is no point."""
        figures = {f: [p and p.figures[f] for p in self.points] for f in FIGURES}
        torque, power = (np.array([np.nan if v is None else v for v in figures[f]]) for f in FIGURES[:2])
        sound = np.isfinite(torque)
        top: dict[str, float] = {}
        for figure, values in (("torque", torque), ("power", power)) if sound.any() else ():
            highest = peak(self.rpm, values)
            top |= {f"peak_{figure}": highest.value, f"peak_{figure}_at": highest.rpm}
        mean = span.mean(self.rpm[sound], torque[sound]) if sound.sum() > 1 else None
        why = next((r for r in self.reasons if r), "")
        return {
            "name": name,
            "accuracy": accuracy,
            "rpm": self.rpm.tolist(),
            **figures,
            **top,
            "mean": mean,
            "why": why,
        }


class Follower:
    """Computes the curves of a file as it changes; one at a time. wanted: says whether what is being computed
    is still of use."""

    def __init__(self, workers: int | None = None) -> None:
        self.pool = ThreadPoolExecutor(workers or os.cpu_count() or 1)
        self.coarse_ones: dict[str, Curve] = {}
        self.fine_ones: dict[str, Curve] = {}
        self.tried: Kept = {}

    def forget(self) -> None:
        """Give up the threads."""
        self.pool.shutdown(wait=False, cancel_futures=True)

    def coarse(
        self, description: Description, first: str, wanted: Callable[[], bool]
    ) -> list[dict[str, Any]]:
        """Curves of the candidates that have changed, that of ``first`` before the others. Raises GivenUp."""
        told, span = [], _span(description)
        names = sorted(description.candidates, key=lambda n: n != first)
        speeds = coarse_speeds(description.engine)
        for name in names:
            engine = description.candidates[name].engine
            before = self.coarse_ones.get(name)
            if before is not None and before.engine == engine and np.array_equal(before.rpm, speeds):
                continue
            self.coarse_ones[name] = self._coarse(engine, speeds, before, wanted)
            told.append(self.coarse_ones[name].told(name, span, "coarse"))
        self.coarse_ones = {n: c for n, c in self.coarse_ones.items() if n in description.candidates}
        return told

    def _coarse(
        self, engine: Engine, speeds: np.ndarray, before: Curve | None, wanted: Callable[[], bool]
    ) -> Curve:
        numerics = engine.numerics
        rough = engine.changed(
            numerics=numerics.changed(cell_scale=CELLS, repeat_within=max(COARSE, numerics.repeat_within))
        )
        ends = {} if before is None else before.ends

        def one(rpm: float) -> Marched:
            if not wanted():
                raise GivenUp
            near = ends.get(rpm)
            found = march(
                Stretch.over_speed(rough, (rpm,), neighbours=() if near is None else (near,)), Exception
            )
            return found[0]

        found = list(self.pool.map(one, map(float, speeds)))
        kept = {m.at: m.settled for m in found if m.settled is not None}
        return Curve(engine, speeds, [m.point for m in found], [m.reason for m in found], kept)

    def fine(
        self, description: Description, wanted: Callable[[], bool]
    ) -> tuple[list[dict[str, Any]], list[str]]:
        """(curves of all candidates as ``compare`` computes them, its first sentences). Raises GivenUp, and
        ComputationError if nothing could be computed."""

        def still(done: int, total: int | None = None) -> None:
            if not wanted():
                raise GivenUp

        even, asked = even_speeds(description.engine), speeds_of(description.engine)
        plain = {n: one.engine for n, one in description.candidates.items()}
        engines, _ = with_chosen_cells(list(plain.values()), even, kept=self.tried)
        still(0)
        named = dict(zip(plain, engines, strict=True))
        known = {n: c for n, c in self.fine_ones.items() if n in named and c.engine == named[n]}
        known = {n: c for n, c in known.items() if np.array_equal(c.rpm, even)}
        missing = [n for n in named if n not in known]
        if missing:
            grown = Grown([named[n] for n in missing], even, asked)
            grown.compute([(k, float(n)) for k in range(len(missing)) for n in even], still)
            for k, name in enumerate(missing):
                known[name] = Curve(
                    named[name],
                    even,
                    [grown.found.get((k, float(n))) for n in even],
                    [grown.failures.get((k, float(n)), "") for n in even],
                )
        self.fine_ones = {n: known[n] for n in named}
        span = _span(description)
        told = [c.told(n, span, "file") for n, c in self.fine_ones.items()]
        return told, self._sentences(description)

    def known(self, description: Description) -> list[tuple[str, list[dict[str, Any]]]]:
        """(accuracy, curves) of what was computed of these candidates as they are, whatever the cells."""
        span, engines, found = _span(description), description.candidates, []
        for accuracy, curves in (("coarse", self.coarse_ones), ("file", self.fine_ones)):
            current = [
                c.told(n, span, accuracy)
                for n, c in list(curves.items())
                if n in engines and c.engine.changed(numerics=engines[n].engine.numerics) == engines[n].engine
            ]
            found += [(accuracy, current)] if current else []
        return found

    def _sentences(self, description: Description) -> list[str]:
        curves = self.fine_ones
        if len(curves) < 2:
            return []
        grid = PointGrid(
            [c.points for c in curves.values()],
            np.array([c.reasons for c in curves.values()], dtype=object),
        )
        try:
            data = curve_dataset(grid, list(curves), next(iter(curves.values())).rpm, description.engine)
        except (StopIteration, ComputationError):
            return []
        return choice_sentences(choice_of(data, description.engine.speeds))


def coarse_speeds(engine: Engine) -> np.ndarray:
    """Even speeds over the file's range, rev/min."""
    asked = speeds_of(engine)
    return np.linspace(asked[0], asked[-1], COARSE_SPEEDS) if asked.size > 1 else asked


def _span(description: Description) -> Any:
    speeds = even_speeds(description.engine)
    return interest(description.engine.speeds, speeds) or all_speeds(speeds)
