"""Of several columns of torque or power the one that is used, and what the others tell of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from aircolumn.measured.logs.guess import LogColumn

SAME = 0.005  # relative: two columns that hold the same figures
POWER_GAP = 0.02  # by which power may differ from torque x speed before a unit must be wrong
MOST_FACTOR = 1.6  # of a correction


@dataclass(frozen=True)
class Chosen:
    """A column, and the median of the corrected column's figures over its own (None: there is no such
    column)."""

    column: LogColumn
    corrected_over: float | None = None


class Rivals(ValueError):
    """Columns that differ, and nothing says which is meant."""


def chosen_column(columns: Sequence[LogColumn], readings: dict[int, np.ndarray]) -> Chosen:
    """The column to use: at the engine before at the wheels, observed before unsaid before corrected; of
    columns with the same figures the first. Raises Rivals."""
    mapped = [c for c in columns if c.how == "mapped"]
    columns = mapped or columns
    ranks = [(c.said.wheel, 0 if c.said.observed else 2 if c.said.corrected else 1) for c in columns]
    best = min(ranks)
    first, *rest = [c for c, rank in zip(columns, ranks, strict=True) if rank == best]
    for other in rest:
        if abs(ratio(readings[other.number], readings[first.number]) - 1.0) > SAME:
            raise Rivals(
                f"columns '{first.heading}' and '{other.heading}' both read as {first.channel}; name one"
                " under pull.columns in the engine file"
            )
    corrected = [
        c for c in columns if c.said.corrected and c.said.wheel == first.said.wheel and c is not first
    ]
    if first.said.corrected or not corrected:
        return Chosen(first)
    return Chosen(first, ratio(readings[corrected[0].number], readings[first.number]))


def ratio(above: np.ndarray, below: np.ndarray) -> float:
    """Median of the quotients of two columns; 1 if they have no row in common."""
    with np.errstate(divide="ignore", invalid="ignore"):
        quotients = above / below
    sound = quotients[np.isfinite(quotients)]
    return float(np.median(sound)) if sound.size else 1.0


def power_over_torque(power: np.ndarray, torque: np.ndarray, rpm: np.ndarray) -> float:
    """Median of power over torque times speed: 1 if both are stated alike and the units are right."""
    return ratio(power, torque * rpm * pi / 30.0)
