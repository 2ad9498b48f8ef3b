"""Measured pulls, and what is understood of logs, as --json prints them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.measured.drift import Drift
from aircolumn.measured.pull_to_xarray import pull_dataset
from aircolumn.measured.range_figures import winners
from aircolumn.output.plain import LabelledTable, SpeedRange
from aircolumn.study.bands.verdict import Interval

if TYPE_CHECKING:
    from aircolumn.measured.logs.columns import Understood
    from aircolumn.measured.logs.pull_file import Omission, Pull, PullFile
    from aircolumn.measured.range_figures import RangeFigures
    from aircolumn.measured.session import Session
    from aircolumn.study.bands.next_manifold import NextManifold


@dataclass(frozen=True)
class Stated:
    """How a file states torque, who says so, and whether it is at the wheels."""

    stated: str
    why: str
    at_the_wheels: bool

    @classmethod
    def of(cls, file: PullFile) -> Stated:
        """Of a data file."""
        return cls(file.stated, file.statement.why, file.wheel)


@dataclass(frozen=True)
class NextFound:
    """The next manifold: torque, N m, its ratio to the measured one's, and torque by the file alone."""

    runner: str
    measured: str
    standard: str
    rpm: np.ndarray
    torque: Interval
    ratio: Interval
    file_alone: Interval
    cases: int

    @classmethod
    def of(cls, n: NextManifold) -> NextFound:
        """As study/bands has it."""
        return cls(n.name, n.measured, n.standard, n.rpm, n.torque, n.ratio, n.alone, n.cases)


@dataclass(frozen=True)
class OverRange:
    """Mean torque and power over a range, and the work of a sweep through it at a rate."""

    span: SpeedRange
    torque: float
    power: float
    work: float
    sweep_rate: float

    @classmethod
    def of(cls, found: RangeFigures) -> OverRange:
        """As measured/range_figures.py has it."""
        return cls(**{**vars(found), "span": SpeedRange.of(found.span)})


@dataclass(frozen=True)
class BothOverRange:
    """The same measured and predicted."""

    measured: OverRange
    predicted: OverRange

    @classmethod
    def of(cls, measured: RangeFigures, predicted: RangeFigures) -> BothOverRange:
        """Of a pair."""
        return cls(OverRange.of(measured), OverRange.of(predicted))


@dataclass(frozen=True)
class Winner:
    """Who has the most torque from one speed to another."""

    from_: float
    to: float
    who: str


@dataclass(frozen=True)
class FittedValue:
    """A fitted value, the half-width of its own 95 % interval and that of the joint one, and a judgement."""

    value: float
    plus_minus: float
    joint_plus_minus: float
    judgement: str


@dataclass(frozen=True)
class PullsFound:
    """Pulls with what was predicted, figures over the range, who wins where, and what was fitted."""

    standard: str
    torque_stated: dict[str, Stated]
    drift: Drift | None
    next: NextFound | None
    pulls: LabelledTable
    ranges: dict[str, BothOverRange | None]
    winners: list[Winner]
    like_for_like: bool | None
    fitted: dict[str, FittedValue]

    @classmethod
    def of(cls, s: Session) -> PullsFound:
        """Of a session."""
        v, c = s.verdict, s.calibration
        return cls(
            standard=s.standard,
            torque_stated={name: Stated.of(file) for name, file in s.files.items()},
            drift=None if v is None else v.returned,
            next=None if s.next is None else NextFound.of(s.next),
            pulls=LabelledTable.of(pull_dataset(s)),
            ranges={
                name: None if pair is None else BothOverRange.of(*pair) for name, pair in s.ranges.items()
            },
            winners=[Winner(a, b, str(who)) for a, b, who in (winners(v, list(s.overlays)) if v else ())],
            like_for_like=None if v is None else not v.alarms(),
            fitted={}
            if c is None
            else {
                name: FittedValue(value, c.alone[name], c.half_widths[name], c.judgement(name))
                for name, value in c.values.items()
            },
        )


@dataclass(frozen=True)
class HeadingRead:
    """A heading, and the channel (None: not used) and unit it is read as."""

    heading: str
    channel: str | None
    unit: str
    doubt: str


@dataclass(frozen=True)
class PullLines:
    """First and last line of a pull, how many rows it has, its least and greatest speed."""

    lines: tuple[int, int]
    rows: int
    rpm: tuple[float, float]

    @classmethod
    def of(cls, pull: Pull) -> PullLines:
        """Of a pull."""
        rpm = pull.readings["rpm"]
        return cls((pull.lines[0], pull.lines[-1]), len(pull.lines), (rpm.min(), rpm.max()))


@dataclass(frozen=True)
class OmittedLines:
    """Lines that were not used, or a value in them, and why."""

    lines: tuple[int, int]
    whole_row: bool
    why: str

    @classmethod
    def of(cls, omitted: Omission) -> OmittedLines:
        """As it was read."""
        return cls((omitted.line, max(omitted.line, omitted.last)), omitted.whole_row, omitted.reason)


@dataclass(frozen=True)
class LogFound:
    """What is understood of a log; torque, pulls and what was left out: of one that could be read."""

    usable: bool
    headings: list[HeadingRead]
    missing: dict[str, str]
    refused: str
    torque: Stated | None
    pulls: list[PullLines]
    left_out: list[OmittedLines]

    @classmethod
    def of(cls, found: Understood) -> LogFound:
        """Of a file."""
        read = found.reading
        return cls(
            found.usable,
            [HeadingRead(h.heading, h.channel, h.unit, h.doubt) for h in found.headings],
            found.missing,
            found.refused,
            None if read is None else Stated.of(read),
            [] if read is None else [PullLines.of(p) for p in read.pulls],
            [] if read is None else [OmittedLines.of(o) for o in read.omitted],
        )


@dataclass(frozen=True)
class ColumnsFound:
    """What is understood of each log."""

    logs: dict[str, LogFound]

    @classmethod
    def of(cls, files: Sequence[Understood]) -> ColumnsFound:
        """Of all files."""
        return cls({found.path.name: LogFound.of(found) for found in files})
