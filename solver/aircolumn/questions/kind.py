"""One kind of study, whole: what it asks for, how it is computed and how it is shown.

A further kind is a folder here with a ``question.py`` that has such a class, called once as ``QUESTION``;
nothing else names it (__init__.py finds it).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.cells import StudyCells
    from aircolumn.study.executors import Executor
    from aircolumn.study.models import Asked
    from aircolumn.study.plan import Plan
    from aircolumn.study.store import Store

Result = TypeVar("Result")


@dataclass(frozen=True)
class Work:
    """What a study is computed with: its cells, the store that points come from or go to, where they are
    computed, and who is told."""

    cells: StudyCells
    store: Store
    executor: Executor
    progress: ProgressCallback | None


class Question(ABC, Generic[Result]):
    """A kind of study whose results are of the type ``Result``.

    name: of the kind, in JSON and, where it has ``keys``, in the study file; found: the type of its answer in
    JSON; keys: what it asks in the study file (None: it is what is asked where no other is); replaced: names
    of files of an earlier answer that do not outlive a new one; tells_sums: whether its text says how well
    means are known by their speeds.
    """

    name: str
    found: type
    keys: type[Asked] | None = None
    replaced: str = ""
    tells_sums: bool = False

    def check(self, plan: Plan) -> None:
        """What can be wrong with what is asked, before anything is written. Raises RequestError."""

    @abstractmethod
    def ask(self, plan: Plan, work: Work) -> Result:
        """Compute the answer."""

    @abstractmethod
    def text(self, plan: Plan, result: Result) -> str:
        """The answer on the screen."""

    @abstractmethod
    def tables(self, plan: Plan, result: Result, folder: Path) -> xr.Dataset:
        """Write study.csv and what goes with it into ``folder``; returns what stands in study.nc."""

    @abstractmethod
    def draw(self, plan: Plan, result: Result, folder: Path) -> list:
        """Draw the pictures into ``folder``; returns their paths."""

    @abstractmethod
    def page(self, plan: Plan, result: Result) -> tuple[str, str, list[dict[str, Any]]]:
        """What the page shows: the question, the answer, charts."""

    @abstractmethod
    def plain(self, plan: Plan, result: Result) -> Any:
        """The answer as --json prints it, of the type ``found``."""

    def again(self, result: Result) -> str:
        """What was computed again on shorter cells, being the best: "12 points"; "" if nothing is."""
        return ""

    def missing(self, result: Result) -> tuple[int, int]:
        """How many points of the answer failed, of how many."""
        return 0, 0
