"""How an answer of one kind of study is shown: what each kind says for itself.

A further kind is computed in study/ (session.py names it), and shown by a class of its own beside these,
which answer.py names.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.plan import Plan

Result = TypeVar("Result")


class Shown(ABC, Generic[Result]):
    """One kind of study, whose results are of the type ``Result``; name: of the kind, in JSON."""

    name: str

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
    def plain(self, plan: Plan, result: Result) -> dict[str, Any]:
        """The answer as plain data."""

    def again(self, result: Result) -> str:
        """What was computed again on shorter cells, being the best: "12 points"; "" if nothing is."""
        return ""

    def missing(self, result: Result) -> tuple[int, int]:
        """How many points of the answer failed, of how many."""
        return 0, 0
