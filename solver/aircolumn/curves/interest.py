"""The engine speeds that matter, and means over them.

A range is a weight over speed, made of pieces between whose ends it runs straight; the mean of a figure is

    integral of w(n) f(n) dn / integral of w(n) dn

with straight lines between the points of f, exactly.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from aircolumn.engine.description.computing import Speeds

#: speed and weight where it begins, speed and weight where it ends
Piece = tuple[float, float, float, float]
STEP = 1e-3  # rev/min, width of a step where weights are given by straight lines


@dataclass(frozen=True)
class Range:
    """Pieces of a weight over speed (rev/min), rising and not overlapping."""

    pieces: tuple[Piece, ...]

    @classmethod
    def between(cls, start: float, stop: float) -> Range:
        """All speeds from start to stop, alike."""
        return cls(((float(start), 1.0, float(stop), 1.0),))

    @classmethod
    def lines(cls, speeds: Sequence[float], weights: Sequence[float]) -> Range:
        """Straight lines between weights at speeds."""
        pairs = list(zip(map(float, speeds), map(float, weights), strict=True))
        return cls(tuple((*a, *b) for a, b in itertools.pairwise(pairs)))

    @property
    def start(self) -> float:
        """The lowest speed, rev/min."""
        return self.pieces[0][0]

    @property
    def stop(self) -> float:
        """The highest speed, rev/min."""
        return self.pieces[-1][2]

    @property
    def alike(self) -> bool:
        """Whether all speeds in it weigh the same."""
        return len({w for _, wa, _, wb in self.pieces if wa + wb > 0.0 for w in (wa, wb)}) == 1

    @property
    def spans(self) -> list[tuple[float, float]]:
        """(from, to) of every stretch of speeds that counts."""
        found: list[tuple[float, float]] = []
        for a, wa, b, wb in self.pieces:
            if wa == wb == 0.0:
                continue
            if found and found[-1][1] == a:
                found[-1] = found[-1][0], b
            else:
                found.append((a, b))
        return found

    @property
    def words(self) -> str:
        """As a sentence goes on: "from 2500 to 4000 rpm"."""
        spans = [f"from {a:.0f} to {b:.0f} rpm" for a, b in self.spans]
        if not self.alike:
            return f"from {self.start:.0f} to {self.stop:.0f} rpm, weighted by use"
        return " and ".join(spans)

    def within(self, low: float, high: float) -> Range | None:
        """What of it lies from ``low`` to ``high``; None if nothing that counts does."""
        pieces = []
        for a, wa, b, wb in self.pieces:
            x, y = max(a, low), min(b, high)
            if x < y:
                at = np.interp([x, y], [a, b], [wa, wb])
                pieces.append((float(x), float(at[0]), float(y), float(at[1])))
        return Range(tuple(pieces)) if any(p[1] + p[3] > 0.0 for p in pieces) else None

    @property
    def total(self) -> float:
        """Integral of the weight."""
        return sum(0.5 * (wa + wb) * (b - a) for a, wa, b, wb in self.pieces)

    def mean(self, rpm: np.ndarray, values: Any) -> float:
        """Mean of a curve over it; NaN if a point it needs could not be computed. Raises ValueError if it
        does not lie within the computed speeds."""
        rpm, values = np.asarray(rpm, dtype=float), np.asarray(values, dtype=float)
        if not rpm[0] <= self.start <= self.stop <= rpm[-1]:
            raise ValueError("the range does not lie within the computed speeds")
        if self.start == self.stop:
            return float(np.interp(self.start, rpm, values))
        return float(sum(_product(piece, rpm, values) for piece in self.pieces) / self.total)

    def as_lines(self) -> tuple[list[float], list[float]]:
        """(speeds, weights) with straight lines between; steps are STEP wide."""
        speeds: list[float] = []
        weights: list[float] = []
        for a, wa, b, wb in self.pieces:
            if speeds and speeds[-1] >= a:
                if weights[-1] == wa:
                    speeds, weights = speeds[:-1], weights[:-1]
                else:
                    a += STEP
            elif speeds:  # nothing counts between two pieces
                speeds += [speeds[-1] + STEP, a - STEP]
                weights += [0.0, 0.0]
            speeds += [a, b]
            weights += [wa, wb]
        return speeds, weights


def _product(piece: Piece, rpm: np.ndarray, values: np.ndarray) -> float:
    """Integral of weight times curve over a piece: Simpson's rule is exact for two straight lines."""
    a, wa, b, wb = piece
    if wa == wb == 0.0:
        return 0.0
    x = np.concatenate([[a], rpm[(rpm > a) & (rpm < b)], [b]])
    w, f = np.interp(x, [a, b], [wa, wb]), np.interp(x, rpm, values)
    ends, middles = w * f, 0.25 * (w[1:] + w[:-1]) * (f[1:] + f[:-1])
    return float(np.sum(np.diff(x) * (ends[:-1] + 4.0 * middles + ends[1:]) / 6.0))


def interest(speeds: Speeds, rpm: np.ndarray) -> Range | None:
    """The part of the file's range that matters which was computed, or None."""
    stated = stated_range(speeds)
    return None if stated is None else stated.within(float(rpm[0]), float(rpm[-1]))


def all_speeds(rpm: np.ndarray) -> Range:
    """All speeds computed."""
    return Range.between(float(rpm[0]), float(rpm[-1]))


def stated_range(speeds: Speeds) -> Range | None:
    """The range that matters as the file states it, or None."""
    if speeds.use is not None:
        return Range(tuple(speeds.use.pieces()))
    if speeds.interest_from is None or speeds.interest_to is None:
        return None
    return Range.between(speeds.interest_from, speeds.interest_to)
