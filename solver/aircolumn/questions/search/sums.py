"""How well an aim is known by the speeds it is summed over.

A mean of straight lines between speeds is off by an amount that goes with the square of their distance, so
leaving out every second speed makes it three times the error more wrong (Richardson 1911, Phil. Trans. A
210):

    error = |aim of all speeds - aim of every second| / 3

A peak between two speeds is missed by as much or less."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.questions.aims import POINTED, value_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from aircolumn.questions.aims import OfCurve

FEWEST = 5  # speeds, to leave out every second of
NEAREST = 20.0  # rev/min between two speeds: none is put between nearer ones


def with_needed(rpm: np.ndarray, figures: Sequence[OfCurve]) -> np.ndarray:
    """Speeds with those at which figures are read."""
    return np.unique(np.concatenate([rpm, *([float(n) for n in f.needed] for f in figures)]))


def error_of(aim: OfCurve, rpm: np.ndarray, torque: np.ndarray) -> float:
    """By how much an aim may be off for its speeds, SI; NaN where they are too few to tell."""
    if aim.of in POINTED:
        return 0.0  # read at a computed speed
    low, high = span_of([aim], rpm)
    inside = rpm[(rpm >= low) & (rpm <= high)]
    if len(inside) < FEWEST:
        return float("nan")
    kept = ~np.isin(rpm, inside[1:-1:2])
    return abs(value_of(aim, rpm, torque) - value_of(aim, rpm[kept], torque[kept])) / 3.0


def span_of(figures: Sequence[OfCurve], rpm: np.ndarray) -> tuple[float, float]:
    """The lowest and the highest speed that figures depend on between which others matter too."""
    ranged = [f for f in figures if f.at is None]
    if not ranged:
        return float(rpm[0]), float(rpm[0])
    starts = [rpm[0] if f.start is None else f.start for f in ranged]
    stops = [rpm[-1] if f.stop is None else f.stop for f in ranged]
    return float(min(starts)), float(max(stops))


def denser(rpm: np.ndarray, low: float, high: float) -> np.ndarray:
    """Speeds with those half-way between them from ``low`` to ``high``."""
    a, b = rpm[:-1], rpm[1:]
    wide = (a >= low) & (b <= high) & (b - a > 2.0 * NEAREST)
    return np.unique(np.concatenate([rpm, 0.5 * (a + b)[wide]]))
