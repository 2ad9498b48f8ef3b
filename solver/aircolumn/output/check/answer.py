"""What ``check`` says of a file, as --json prints it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from aircolumn.engine.uncertain.inputs import assumed, of_all, said_spread, stated
from aircolumn.output.check.text import doubts

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description


@dataclass(frozen=True)
class CandidateFound:
    """The keys in which a candidate differs, and its length, m."""

    differs_in: list[str]
    runner_length: float


@dataclass(frozen=True)
class OpenKey:
    """A key that is not known for sure: how far off it may be, who says so, how to settle it."""

    key: str
    said: str
    source: str
    settle: str


@dataclass(frozen=True)
class CheckFound:
    """Candidates, what the file is not sure of, what it leaves out, and what is doubtful."""

    candidates: dict[str, CandidateFound]
    stated: list[OpenKey]
    assumed: list[OpenKey]
    doubts: list[str]

    @classmethod
    def of(cls, description: Description) -> CheckFound:
        """Of an engine file."""
        candidates = {
            name: CandidateFound([".".join(map(str, p)) for p in c.own], c.engine.intake.runner.total_length)
            for name, c in description.candidates.items()
        }
        known, open_ = _rows(stated, description), _rows(assumed, description)
        return cls(candidates, known, open_, doubts(description.engine))


def _rows(find: Callable, description: Description) -> list[OpenKey]:
    rows = of_all(find, description.candidates.values())
    return [OpenKey(row.key, said_spread(row), row.source, row.settle) for row in rows]
