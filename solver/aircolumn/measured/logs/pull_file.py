"""What is read of a log: pulls, columns, and what was left out."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from aircolumn.engine.description.text_file import AsRead
from aircolumn.measured.logs.statement import Statement


@dataclass(frozen=True)
class UsedColumn:
    """A column that is used: its heading, its unit, and how it was found (mapped or guessed)."""

    heading: str
    unit: str
    how: str


@dataclass(frozen=True)
class Omission:
    """A row (or several, to line ``last``), or a cell of it, that is not used."""

    line: int
    reason: str
    whole_row: bool
    last: int = 0

    @property
    def lines(self) -> str:
        """Which lines, in words."""
        return f"line {self.line}" if self.last <= self.line else f"lines {self.line} to {self.last}"


@dataclass(frozen=True)
class Pull:
    """One sweep: line numbers, and readings by channel in SI (rpm in rev/min, spark in degrees),
    arrays of one length in order of the file; missing readings are NaN. order: of all pulls of a session by
    the time they were run; number: in the log ("pull" column; NaN: none); clock: s, when it began (NaN)."""

    lines: np.ndarray
    readings: dict[str, np.ndarray]
    order: int = 0
    number: float = float("nan")
    clock: float = float("nan")


@dataclass
class PullFile:
    """All that was read from a file: pulls, columns by channel, headings not used and why, omissions, remarks
    for the reader, how torque is stated, whether the air flow is a volume flow (m3/s), and whether torque was
    measured at the wheels and the engine's is known from it."""

    file: AsRead
    pulls: list[Pull]
    columns: dict[str, UsedColumn]
    unused: dict[str, str]
    omitted: list[Omission] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    statement: Statement = field(default_factory=lambda: Statement("observed", "torque is taken as observed"))
    volume_flow: bool = False
    wheel: bool = False
    level_known: bool = True
    heading_line: int = 1
    other_days: tuple[AsRead, ...] = ()

    @property
    def files(self) -> tuple[AsRead, ...]:
        """The data files, as they were read."""
        return self.file, *self.other_days

    @property
    def path(self) -> Path:
        """Path of the data file."""
        return self.file.path

    @property
    def stated(self) -> str:
        """How torque is stated: observed, a standard, or factor."""
        return self.statement.by
