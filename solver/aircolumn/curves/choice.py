"""Which runner, by how much, and what it costs elsewhere.

The choice is the runner with the most mean torque over the range that matters (all speeds, if the file
names none); a lead of less than TIE counts as none. It costs what the best of the others has more: of peak
power, of mean torque below and above the range, and of torque at single speeds of the range itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.against import ranges_of
from aircolumn.curves.interest import Range, all_speeds, interest
from aircolumn.curves.summary import TIE, runner_mean
from aircolumn.curves.to_xarray import own_curve, shown_figure

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.computing import Speeds


def _share(own: float, most: float) -> float:
    return (most - own) / (abs(most) or abs(own))


@dataclass(frozen=True)
class Cost:
    """Where another runner has more than the choice: of mean torque over a range, or (None) of peak power;
    runner: who has the most; own, most: of the choice and of that one, SI."""

    over: Range | None
    runner: str
    own: float
    most: float

    @property
    def share(self) -> float:
        """What is lost, relative to the most."""
        return _share(self.own, self.most)


@dataclass(frozen=True)
class Shortfall:
    """The speed (rev/min) of the range at which another runner has most more torque than the choice, as a
    share; N m of both."""

    rpm: float
    runner: str
    own: float
    most: float

    @property
    def share(self) -> float:
        """What is lost, relative to the most."""
        return _share(self.own, self.most)


@dataclass(frozen=True)
class Choice:
    """best: the runner, or those that are level with it; torque: its mean over ``span``, N m; second: the
    next best and its mean, None if there is no other or the best are level; costs: the largest first;
    shortfall: None if no other has more at any speed of the range; whole: whether the range is all speeds."""

    span: Range
    best: list[str]
    torque: float
    second: tuple[str, float] | None
    costs: list[Cost]
    shortfall: Shortfall | None
    whole: bool

    @property
    def winner(self) -> str | None:
        """The runner; None if several are level."""
        return self.best[0] if len(self.best) == 1 else None

    @property
    def margin(self) -> float:
        """N m more than the next best."""
        return 0.0 if self.second is None else self.torque - self.second[1]


def _ahead(one: float, other: float) -> bool:
    """Whether one is more than level; either may be below 0, where friction takes all."""
    return one - other > TIE * abs(other)


def choice_of(data: xr.Dataset, speeds: Speeds) -> Choice | None:
    """The choice among the runners of a comparison, torque and power as they were asked for; None if no mean
    is known."""
    rpm, names = data.rpm.values, [str(n) for n in data.runner.values]
    span, torque = interest(speeds, rpm) or all_speeds(rpm), shown_figure(data, "torque")[0]
    means = {n: runner_mean(data, torque, n, span) for n in names}
    known = sorted((n for n in names if np.isfinite(means[n])), key=lambda n: -means[n])
    if not known:
        return None
    first, *others = known
    level = [n for n in known if not _ahead(means[first], means[n])]
    second = (others[0], means[others[0]]) if others and len(level) == 1 else None
    costs = _costs(data, speeds, first, names) if second else []
    short = _shortfall(data, span, first, names) if second else None
    return Choice(span, level, means[first], second, costs, short, len(ranges_of(speeds, rpm)) < 2)


def _shortfall(data: xr.Dataset, span: Range, choice: str, names: list[str]) -> Shortfall | None:
    torque = data[shown_figure(data, "torque")[0]]
    found = [
        Shortfall(float(n), name, float(own), float(most))
        for name in names
        for n, own, most in zip(
            data.rpm.values, torque.sel(runner=choice).values, torque.sel(runner=name).values, strict=True
        )
        if _ahead(most, own) and any(low <= n <= high for low, high in span.spans)
    ]
    return max(found, key=lambda s: s.share, default=None)


def _costs(data: xr.Dataset, speeds: Speeds, choice: str, names: list[str]) -> list[Cost]:
    torque, power = (shown_figure(data, what)[0] for what in ("torque", "power"))
    peaks = {n: float(np.max(own_curve(data, n)[power].values, initial=-np.inf)) for n in names}
    each: list[tuple[Range | None, dict[str, float]]] = [(None, peaks)]
    for span in ranges_of(speeds, data.rpm.values)[1:]:
        each.append((span, {n: runner_mean(data, torque, n, span) for n in names}))
    found = []
    for over, values in each:
        known = {n: v for n, v in values.items() if np.isfinite(v)}
        most = max(known, key=known.__getitem__, default=choice)
        if choice in known and _ahead(known[most], known[choice]):
            found.append(Cost(over, most, known[choice], known[most]))
    return sorted(found, key=lambda cost: -cost.share)
