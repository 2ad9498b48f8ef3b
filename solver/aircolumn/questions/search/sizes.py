"""What a search may choose: shares 0 to 1 of each varied key, on values that exist, and how far apart they
are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import qmc

from aircolumn.engine.description.base import required
from aircolumn.engine.description.places import checked_at, si_value, value_at
from aircolumn.engine.description.units import unit_factor

if TYPE_CHECKING:
    from aircolumn.study.axes import Axis
    from aircolumn.study.plan import Plan

APART = 0.7  # between two words, which have no order: in shares of a span
MIDDLE = 0.5  # where a key stands that is another candidate's
PLAIN_STEPS = 40.0  # of a span, before rounding to a plain number: what a builder may miss a size by


@dataclass(frozen=True)
class Beside:
    """What lies next to a choice along one key: how it is called, and its shares (None: outside the span)."""

    name: str
    share: np.ndarray | None


class Sizes:
    """The choices of a plan's varied keys."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.axes = plan, plan.axes
        self.runner = next((k for k, a in enumerate(plan.axes) if a.says_runner), None)

    def snapped(self, rows: np.ndarray) -> np.ndarray:
        """Shares (n, keys) on values that exist; what is another candidate's own key stands in the middle."""
        rows = np.round(np.clip(rows, 0.0, 1.0), 9)
        found = np.array([[a.snapped(s) for a, s in zip(self.axes, row, strict=True)] for row in rows])
        for row in found:
            row[~self._counts(row)] = MIDDLE
        return found

    def coordinates(self, rows: np.ndarray) -> np.ndarray:
        """Shares (n, keys) as places (n, m) whose distances mean something: sizes along a line, words as the
        corners of a simplex, each as far from the other."""
        columns = [
            _corners(len(axis.values))[np.round(rows[:, k] * (len(axis.values) - 1)).astype(int)]
            if axis.in_words
            else rows[:, k : k + 1]
            for k, axis in enumerate(self.axes)
        ]
        return np.hstack(columns)

    def spread(self, count: int, rng: np.random.Generator) -> np.ndarray:
        """A space-filling sample, (count, keys)."""
        sampler = qmc.LatinHypercube(len(self.axes), optimization="random-cd", rng=rng)
        return self.snapped(sampler.random(count))

    def around(self, share: np.ndarray, wide: float, count: int, rng: np.random.Generator) -> np.ndarray:
        """Shares scattered about one; a list's values, and words, change as often as spans move far."""
        rows = share + rng.normal(0.0, wide, (count, len(self.axes)))
        for k, axis in enumerate(self.axes):
            if axis.values:
                jump = rng.random(count) < 1.0 / (1.0 + len(self.axes))
                rows[:, k] = np.where(jump, rng.choice(axis.shares, count), share[k])
        return self.snapped(rows)

    def standing(self, runner: str | None) -> np.ndarray:
        """The choice nearest to what a candidate has (None: the file's own runner); a key that it states
        otherwise, as a bore by its ends, in the middle."""
        data = self.plan.bases[runner]
        row = [_share_in(data, a, runner) for a in self.axes]
        return self.snapped(np.array([row]))[0]

    def free(self, share: np.ndarray) -> list[int]:
        """The keys that run through a span and count with this choice."""
        counts = self._counts(share)
        return [k for k, a in enumerate(self.axes) if not a.values and not a.whole and counts[k]]

    def beside(self, share: np.ndarray, scale: float) -> dict[str, list[Beside]]:
        """By key, the choices next to one: a plain step of a span times ``scale`` less and more, the sizes
        next to it, every other word. A key that does not count has none."""
        counts = self._counts(share)
        return {a.name: self._beside(share, k, a, scale) for k, a in enumerate(self.axes) if counts[k]}

    def _beside(self, share: np.ndarray, k: int, axis: Axis, scale: float) -> list[Beside]:
        if axis.in_words:
            others = (v for v in axis.values if axis.share_of(v) != share[k])
            return [Beside(str(v), self._moved(share, k, axis.share_of(v))) for v in others]
        if axis.values:
            at = int(np.argmin(np.abs(axis.shares - share[k])))
            near = [n for n in (at - 1, at + 1) if 0 <= n < len(axis.values)]
            return [
                Beside(f"{axis.values[n]:g} {axis.unit}".rstrip(), self._moved(share, k, axis.shares[n]))
                for n in near
            ]
        step = (1.0 if axis.whole else scale) * plain_step(axis)
        found = []
        for sign, word in ((-1.0, "less"), (1.0, "more")):
            to = share[k] + sign * step / (axis.high - axis.low)
            inside = -1e-9 <= to <= 1.0 + 1e-9
            name = f"{step:g} {axis.unit}".rstrip()
            found.append(Beside(f"{name} {word}", self._moved(share, k, to) if inside else None))
        return found

    def _moved(self, share: np.ndarray, k: int, to: float) -> np.ndarray:
        moved = share.copy()
        moved[k] = to
        return self.snapped(moved[None])[0]

    def _counts(self, share: np.ndarray) -> np.ndarray:
        """Which keys count with this choice: not those of a candidate that is not bolted on."""
        if self.runner is None:
            return np.ones(len(self.axes), dtype=bool)
        bolted = self.axes[self.runner].scaled(share[self.runner])
        return np.array([a.owner in (None, bolted) for a in self.axes])


def _share_in(data: dict, axis: Axis, runner: str | None) -> float:
    if axis.says_runner:
        return axis.share_of(str(runner))
    try:
        value = value_at(data, axis.path)
        if not axis.in_words and axis.unit:
            kind = required(checked_at(axis.path)).kind
            factor, shift = required(unit_factor(axis.unit, kind))
            value = (si_value(axis.path, value) - shift) / factor
        return axis.share_of(value)
    except (ValueError, TypeError, AssertionError):
        return MIDDLE


def _corners(count: int) -> np.ndarray:
    """Corners of a simplex (count, count - 1), APART from each other."""
    middle = np.eye(count) - 1.0 / count
    u, s, _ = np.linalg.svd(middle)
    return APART / np.sqrt(2.0) * (u * s)[:, : count - 1]


def plain_step(axis: Axis) -> float:
    """A step a maker thinks in, about a fiftieth to a twentieth of the span: 1, 2 or 5 times a
    power of ten."""
    if axis.whole:
        return 1.0
    rough = (axis.high - axis.low) / PLAIN_STEPS
    power = 10.0 ** np.floor(np.log10(rough))
    return float(next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough))
