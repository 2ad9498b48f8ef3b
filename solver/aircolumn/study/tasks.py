"""What is computed in a study: a task of one or more operating points, anywhere it may run."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aircolumn.engine.description.engine_file import Engine, computed_part
from aircolumn.engine.model.stretches import Marched, Stretch, march
from aircolumn.errors import RequestError
from aircolumn.point_figures import FIGURES
from aircolumn.sources import solver_version

NAMES = tuple(FIGURES)


def json_of(engines: Sequence[Engine]) -> list[str]:
    """What is computed of each engine, as text; the same engine is told once."""
    told = {id(e): e for e in engines}
    texts = {i: json.dumps(computed_part(e), sort_keys=True) for i, e in told.items()}
    return [texts[id(e)] for e in engines]


@dataclass(frozen=True)
class Task:
    """Points marched one after another, each started from those before it: where it stands among them, its
    engine and speed (rev/min; engine/model/stretches.py). solver: the version that must compute it."""

    points: tuple[tuple[float, Engine, float], ...]
    solver: str
    refinement: float = 1.0

    @classmethod
    def alone(cls, engine: Engine, rpm: float, refinement: float = 1.0) -> "Task":
        """One point, from rest."""
        return cls(((float(rpm), engine, float(rpm)),), solver_version(), refinement)

    def keys(self) -> list[str]:
        """What each point is stored under: all it depends on, and so what came before it."""
        parts = json_of(tuple(engine for _, engine, _ in self.points))
        keys: list[str] = []
        for (at, _, rpm), engine in zip(self.points, parts, strict=True):
            # A first point starts from rest, wherever it stands.
            before = (keys[-1], at) if keys else ()
            told = f"{engine} {self.solver} {self.refinement!r} {rpm!r} {before!r}"
            keys.append(hashlib.sha256(told.encode()).hexdigest())
        return keys


@dataclass(frozen=True)
class Outcome:
    """Figures of a point in order of NAMES, or None and the reason why there are none."""

    figures: np.ndarray | None
    reason: str = ""

    def figure(self, name: str) -> float:
        """One figure by name; NaN if the point failed."""
        return np.nan if self.figures is None else self.figures[NAMES.index(name)]


def compute(task: Task) -> list[Outcome]:
    """The outcome of every point of a task. Raises RequestError on another solver version."""
    if task.solver != solver_version():
        raise RequestError(
            f"a worker has solver {solver_version()}, the study needs {task.solver}: install the"
            " same version everywhere"
        )
    # A failed point must not stop the study, whatever it failed by.
    return [_outcome(marched) for marched in march(Stretch(task.points, task.refinement), Exception)]


def _outcome(marched: Marched) -> Outcome:
    if marched.point is None:
        return Outcome(None, marched.reason)
    return Outcome(np.array([marched.point.figures[name] for name in NAMES]))


def compute_all(tasks: Sequence[Task]) -> list[list[Outcome]]:
    """The outcomes of several tasks."""
    return [compute(task) for task in tasks]
