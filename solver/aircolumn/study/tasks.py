"""What is computed in a study: a task of one or more operating points, anywhere it may run."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version

import numpy as np

from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.figures import FIGURES
from aircolumn.engine.model.operating_point import converged
from aircolumn.errors import ComputationError, RequestError
from aircolumn.flow.network.run import Run
from aircolumn.sources import SOLVER, digest_of
from aircolumn.study.varied import computed_part

NAMES = tuple(FIGURES)


@cache
def solver_version() -> str:
    """Digest of all that computes a point: the solver's sources, numpy, scipy and numba."""
    made_by = " ".join(version(name) for name in ("numpy", "scipy", "numba"))
    return digest_of(SOLVER, made_by)


@dataclass(frozen=True)
class Task:
    """Points of one engine at ``speeds`` (rev/min), marched one after another.

    warm: each starts from the one before; solver: the version that must compute it.
    """

    engine: Engine
    speeds: tuple
    warm: bool
    solver: str
    refinement: float = 1.0

    def keys(self) -> list[str]:
        """What each point is stored under: all it depends on."""
        common = [
            computed_part(self.engine),
            self.solver,
            self.refinement,
            self.speeds if self.warm else None,
        ]
        text = json.dumps(common, sort_keys=True)
        return [hashlib.sha256(f"{text} {n!r}".encode()).hexdigest() for n in self.speeds]


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
    outcomes: list[Outcome] = []
    run: Run | None = None
    for rpm in task.speeds:
        start, run = run if task.warm else None, None
        try:
            _, run, point = converged(task.engine, rpm, task.refinement, start=start)
            figures = np.array([point.figures[name] for name in NAMES])
            outcomes.append(Outcome(figures))
        except ComputationError as error:
            outcomes.append(Outcome(None, str(error)))
        except Exception as error:  # a failed point must not stop the study
            outcomes.append(Outcome(None, f"{type(error).__name__}: {error}"))
    return outcomes


def compute_all(tasks: Sequence[Task]) -> list[list[Outcome]]:
    """The outcomes of several tasks."""
    return [compute(task) for task in tasks]
