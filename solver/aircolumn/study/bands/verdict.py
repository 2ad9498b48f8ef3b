"""What many cases say: bands, gains against a runner and how sure they are, who is best.

The interval of a figure is that between its 2.5 and 97.5 % quantiles over n cases, at the places k (n + 1) of
the sorted values: so the next case lies in it with a probability of 95 % whatever the distribution (order
statistics: Wilks 1941, Ann. Math. Stat. 12, from memory). What the cells do is added to its half-widths by
root-sum-square. How well n cases know the ends of an interval is told by resampling them (bootstrap: Efron
1979, Ann. Stat. 7).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from aircolumn.curves.against import ranges_of
from aircolumn.curves.summary import TIE

if TYPE_CHECKING:
    from aircolumn.curves.interest import Range
    from aircolumn.engine.description.computing import Speeds
    from aircolumn.study.bands.ensemble import Ensemble

TAIL = 0.025
#: How much wider than its 95 % an interval must leave 0 aside for "beyond doubt": with 1 the sign was wrong
#: in 0.9 % of such differences of 600 hidden engines that differ by other laws in all at once, with 1.25 in
#: none of 3198 (validation/hidden_engines.py).
BEYOND = 1.25
RESAMPLED, SEED = 200, 3
State = Literal["ahead", "behind", "level", "open"]
AHEAD: State = "ahead"
BEHIND: State = "behind"
LEVEL: State = "level"
OPEN: State = "open"


@dataclass(frozen=True)
class Interval:
    """Least and greatest of 95 of 100 cases, the file's own value, and the median of the cases; arrays of one
    shape, SI."""

    low: np.ndarray
    own: np.ndarray
    high: np.ndarray
    middle: np.ndarray


@dataclass(frozen=True)
class Against:
    """One runner less another. at: at every speed, N m; over: on average {range: N m}; share: the same over
    the other's torque, relative; states: AHEAD, BEHIND, LEVEL or OPEN at every speed; of each range."""

    runner: str
    base: str
    at: Interval
    states: list[State]
    over: dict[Range, Interval]
    share: dict[Range, float]
    range_states: dict[Range, State]


@dataclass(frozen=True)
class Verdict:
    """bands: torque of every runner, N m (s,); hump: {runner: (speed, torque) of the highest point}, as
    intervals; against: every other runner less ``base``; best: {runner: share of cases in which its mean over
    ``span`` is the highest}; choice: with the highest mean over all cases; lost: N m that the choice costs on
    average by not being the best in every case; error: N m, standard error of the bands' ends."""

    rpm: np.ndarray
    ranges: list[Range]
    base: str
    bands: dict[str, Interval]
    hump: dict[str, tuple[Interval, Interval]]
    against: list[Against]
    means: np.ndarray
    best: dict[str, float]
    choice: str
    lost: float
    error: float
    error_of_gains: float

    @property
    def span(self) -> Range:
        """The range that matters."""
        return self.ranges[0]


def judged(found: Ensemble, speeds: Speeds, base: str | None = None) -> Verdict:
    """The verdict on a comparison; base: the runner to set the others against (left out: the choice)."""
    names, rpm = found.runners, found.rpm
    ranges = ranges_of(speeds, rpm)
    means = np.array([[ranges[0].mean(rpm, t) for t in case] for case in found.torque])
    winners = np.argmax(means, axis=1)
    chosen = int(np.argmax(means.mean(axis=0)))
    base = base or names[chosen]
    bands = {
        n: _band(found.torque[:, k], found.own[k], found.level * found.own[k]) for k, n in enumerate(names)
    }
    others = [n for n in names if n != base]
    return Verdict(
        rpm,
        ranges,
        base,
        bands,
        {n: _hump(rpm, found.torque[:, k], found.own[k]) for k, n in enumerate(names)},
        [_against(found, ranges, n, base) for n in others],
        means,
        {n: float(np.mean(winners == k)) for k, n in enumerate(names)},
        names[chosen],
        float(np.mean(means.max(axis=1) - means[:, chosen])),
        _error(found.torque[:, names.index(base)]),
        max((_error(_less(found, n, base)) for n in others), default=0.0),
    )


def quantiles(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The ends of the interval of 95 of 100 of ``values`` (cases, ...)."""
    low, high = np.quantile(values, [TAIL, 1.0 - TAIL], axis=0, method="weibull")
    return low, high


def _band(values: np.ndarray, own: np.ndarray, cells: np.ndarray | float) -> Interval:
    """cells: half-width of what the cells do."""
    low, high = quantiles(values)
    middle = np.median(values, axis=0)
    ends = middle - np.hypot(middle - low, cells), middle + np.hypot(high - middle, cells)
    return Interval(ends[0], own, ends[1], middle)


def _less(found: Ensemble, runner: str, base: str) -> np.ndarray:
    a, b = (found.runners.index(n) for n in (runner, base))
    return found.torque[:, a] - found.torque[:, b]


def _against(found: Ensemble, ranges: list[Range], runner: str, base: str) -> Against:
    a, b = (found.runners.index(n) for n in (runner, base))
    gains, own, level = _less(found, runner, base), found.own[a] - found.own[b], found.own[b]
    at = _band(gains, own, found.gap[a, b] * level)
    over, share, states = {}, {}, {}
    for one in ranges:
        each = np.array([one.mean(found.rpm, g) for g in gains])
        torque = one.mean(found.rpm, level)
        over[one] = _band(each, np.array(one.mean(found.rpm, own)), found.gap[a, b] * torque)
        share[one] = float(over[one].middle) / torque
        o = over[one]
        states[one] = state_of(float(o.low), float(o.middle), float(o.high), torque)
    limits = zip(at.low, at.middle, at.high, level, strict=True)
    return Against(runner, base, at, [state_of(*row) for row in limits], over, share, states)


def state_of(low: float, middle: float, high: float, torque: float) -> State:
    """What an interval of a difference, about the median of the cases, says: LEVEL if all of it is less than
    what counts; AHEAD or BEHIND if it leaves 0 on one side even where it is BEYOND times as wide, so that
    engines which differ in more than the cases do not turn the sign; else OPEN."""
    if max(abs(low), abs(high)) < TIE * torque:
        return LEVEL
    if middle - BEYOND * (middle - low) > 0.0:
        return AHEAD
    return BEHIND if middle + BEYOND * (high - middle) < 0.0 else OPEN


def _hump(rpm: np.ndarray, torque: np.ndarray, own: np.ndarray) -> tuple[Interval, Interval]:
    """Speed and torque of the highest computed point."""
    at, top = rpm[np.argmax(torque, axis=1)], torque.max(axis=1)
    speed = Interval(*_ends(at, rpm[int(np.argmax(own))]))
    return speed, Interval(*_ends(top, own.max()))


def _ends(values: np.ndarray, own: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    low, high = quantiles(values)
    return low, np.array(own), high, np.median(values, axis=0)


def _error(values: np.ndarray) -> float:
    """Standard error of the ends of the bands of ``values`` (cases, s), the mean over speeds."""
    rng = np.random.default_rng(SEED)
    picks = rng.integers(0, len(values), (RESAMPLED, len(values)))
    ends = np.array([quantiles(values[pick]) for pick in picks])
    return float(ends.std(axis=0).mean())
