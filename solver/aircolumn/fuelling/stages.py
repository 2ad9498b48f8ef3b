"""Computations one after another, told as one."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback


class Stages:
    """Progress over several computations: the points of those before count as done, and those that are
    ``to_come``, as far as that is known beforehand, as still due."""

    def __init__(self, progress: ProgressCallback | None = None, to_come: int = 0) -> None:
        self.progress, self.to_come, self.done = progress, to_come, 0

    def next(self, points: int, was_to_come: bool = False) -> ProgressCallback | None:
        """Progress of the next computation, of so many points."""
        if self.progress is None:
            return None
        tell, before = self.progress, self.done
        self.done += points
        self.to_come -= points if was_to_come else 0
        total = self.done + self.to_come
        return lambda done, _: tell(before + done, total)
