"""Points one after another, each started from those before it (engine/model/neighbours.py)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from aircolumn.engine.model.operating_point import point_beside
from aircolumn.errors import ComputationError

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.model.figures import OperatingPoint
    from aircolumn.engine.model.neighbours import Settled


@dataclass(frozen=True)
class Stretch:
    """Points that differ by one number: where each stands (rev/min, or a size), its engine and speed
    (rev/min). The first starts from ``neighbours``, from rest without any, the others from those before."""

    points: tuple[tuple[float, Engine, float], ...]
    refinement: float = 1.0
    neighbours: tuple[Settled | None, ...] = ()

    @classmethod
    def over_speed(
        cls,
        engine: Engine,
        speeds: tuple[float, ...],
        refinement: float = 1.0,
        neighbours: tuple[Settled | None, ...] = (),
    ) -> Stretch:
        """Of one engine."""
        return cls(tuple((n, engine, n) for n in speeds), refinement, neighbours)


@dataclass(frozen=True)
class Marched:
    """A point of a stretch, or the reason why there is none; what its neighbours may start from."""

    at: float
    point: OperatingPoint | None
    reason: str = ""
    settled: Settled | None = None


def march(stretch: Stretch, survived: type[Exception] = ComputationError) -> list[Marched]:
    """Its points, in order. After one that fails the next starts from rest. survived: the errors that are
    noted; others are raised."""
    known, found = list(stretch.neighbours), []
    for at, engine, rpm in stretch.points:
        settled = None
        try:
            point, settled = point_beside(engine, rpm, stretch.refinement, at, known[-2:])
            found.append(Marched(at, point, settled=settled))
        except survived as error:
            told = str(error) if isinstance(error, ComputationError) else f"{type(error).__name__}: {error}"
            found.append(Marched(at, None, told))
        known = [*known, settled] if settled else []
    return found
