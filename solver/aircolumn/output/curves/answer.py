"""Curves of runners as --json prints them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.choice import choice_of
from aircolumn.curves.interest import all_speeds, interest
from aircolumn.curves.summary import all_crossings, loosely, peak, runner_mean
from aircolumn.curves.to_xarray import failed_points, own_curve, shown_figure, shown_ve
from aircolumn.output.plain import LabelledTable, SpeedRange
from aircolumn.point_figures import FIGURES

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.against import Gain
    from aircolumn.curves.choice import Choice
    from aircolumn.engine.description.computing import Speeds

Between = tuple[float, float] | None  # computed speeds that it lies between; None where it is well located


@dataclass(frozen=True)
class PeakFound:
    """The highest computed point of a curve."""

    rpm: float
    value: float
    between: Between

    @classmethod
    def of(cls, data: xr.Dataset, name: str, figure: str) -> PeakFound | None:
        """Of a runner's own curve; None if no point could be computed."""
        one = own_curve(data, name)
        values = one[figure].values
        if not np.isfinite(values).any():
            return None
        top = peak(one.rpm.values, values)
        return cls(top.rpm, top.value, loosely(one.rpm.values, top.rpm))


@dataclass(frozen=True)
class RunnerFound:
    """Mean torque over the range, and peaks."""

    mean_torque: float
    peak_ve: PeakFound | None
    peak_torque: PeakFound | None
    peak_power: PeakFound | None


@dataclass(frozen=True)
class CrossingFound:
    """Where the torque curves of two runners cross."""

    runners: list[str]
    rpm: float
    between: Between


@dataclass(frozen=True)
class GainOver:
    """Mean torque gained over a range, N m and as a share."""

    range: SpeedRange
    torque: float
    share: float


@dataclass(frozen=True)
class GainFound:
    """Torque of a runner less that of the base."""

    runner: str
    base: str
    rpm: np.ndarray
    torque: np.ndarray
    over: list[GainOver]

    @classmethod
    def of(cls, gain: Gain) -> GainFound:
        """As curves/against.py has it."""
        over = [GainOver(SpeedRange.of(span), mean, share) for span, (mean, share) in gain.means.items()]
        return cls(gain.runner, gain.base, gain.rpm, gain.torque, over)


@dataclass(frozen=True)
class CostFound:
    """Where another runner has more: of mean torque over a range, or (null) of peak power."""

    over: SpeedRange | None
    runner: str
    own: float
    most: float
    share: float


@dataclass(frozen=True)
class ShortfallFound:
    """The speed of the range at which another runner has most more torque, as a share."""

    rpm: float
    runner: str
    own: float
    most: float
    share: float


@dataclass(frozen=True)
class ChoiceFound:
    """The best over the range that matters (several: level), its mean torque, the next best, and what the
    choice costs elsewhere and (null: nothing) at a speed of the range."""

    best: list[str]
    torque: float
    second: str | None
    margin: float
    costs: list[CostFound]
    shortfall: ShortfallFound | None

    @classmethod
    def of(cls, c: Choice) -> ChoiceFound:
        """As curves/choice.py has it."""
        costs = [
            CostFound(None if x.over is None else SpeedRange.of(x.over), x.runner, x.own, x.most, x.share)
            for x in c.costs
        ]
        s = c.shortfall
        short = None if s is None else ShortfallFound(s.rpm, s.runner, s.own, s.most, s.share)
        return cls(c.best, c.torque, c.second and c.second[0], c.margin, costs, short)


@dataclass(frozen=True)
class FailedPoint:
    """A point that could not be computed."""

    runner: str
    rpm: float
    reason: str


@dataclass(frozen=True)
class CurvesFound:
    """Peaks and means of every runner, the winner over the range that matters (None: a tie), crossings, gains
    and curves; torque and power throughout at the ``standard`` asked for ("observed": as they are)."""

    range: SpeedRange
    winner: str | None
    choice: ChoiceFound | None
    runners: dict[str, RunnerFound]
    crossings: list[CrossingFound]
    against: list[GainFound]
    failures: list[FailedPoint]
    standard: str
    curves: LabelledTable

    @classmethod
    def of(cls, data: xr.Dataset, speeds: Speeds, against: Sequence[Gain] = ()) -> CurvesFound:
        """Of the curves of a file."""
        rpm, names = data.rpm.values, [str(n) for n in data.runner.values]
        span = interest(speeds, rpm) or all_speeds(rpm)
        torque, standard = shown_figure(data, "torque")
        shown = (shown_ve(data)[0], torque, shown_figure(data, "power")[0])
        means = [runner_mean(data, torque, n, span) for n in names]
        several = len(names) > 1
        choice = choice_of(data, speeds)
        as_shown = data.assign(torque=data[torque], power=data[shown[2]])
        return cls(
            range=SpeedRange.of(span),
            winner=None if choice is None else choice.winner,
            choice=None if choice is None else ChoiceFound.of(choice),
            runners={
                n: RunnerFound(mean, *(PeakFound.of(data, n, figure) for figure in shown))
                for n, mean in zip(names, means, strict=True)
            },
            crossings=[
                CrossingFound([a, b], at, loosely(rpm, at))
                for a, b, at in (all_crossings(data, torque) if several else [])
            ],
            against=[GainFound.of(g) for g in against],
            failures=[FailedPoint(str(n), float(at), why) for n, at, why in failed_points(data)],
            standard=standard,
            curves=LabelledTable.of(as_shown, *FIGURES, "asked"),
        )
