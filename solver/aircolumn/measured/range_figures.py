"""What counts in use: means over the range that matters, work over a sweep, who wins where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi
from typing import Any

import numpy as np

from aircolumn.curves.interest import Range


@dataclass(frozen=True)
class RangeFigures:
    """Over one range of speeds: mean torque (N m), mean power (W), both over engine speed, and the
    work of a sweep through it at ``sweep_rate`` rev/min/s (J; NaN where no rate is known)."""

    span: Range
    torque: float
    power: float
    work: float
    sweep_rate: float


def range_figures(rpm: np.ndarray, torque: np.ndarray, span: Range, sweep_rate: float) -> RangeFigures:
    """Figures of a torque curve over a range.

    Work of a sweep through all of it: integral of P dt = integral of P d(rpm) / sweep_rate.
    """
    power = torque * rpm * pi / 30.0
    swept = Range.between(span.start, span.stop).mean(rpm, power) * (span.stop - span.start)
    work = swept / sweep_rate if sweep_rate > 0.0 else float("nan")
    return RangeFigures(span, span.mean(rpm, torque), span.mean(rpm, power), work, sweep_rate)


def runs_of(rpm: np.ndarray, labels: Sequence[bool | str]) -> list[tuple]:
    """(first speed, last speed, label) of each run of equal labels."""
    cuts = [k for k in range(1, len(labels)) if labels[k] != labels[k - 1]]
    pieces = np.split(np.arange(len(labels)), cuts)
    return [(float(rpm[p[0]]), float(rpm[p[-1]]), labels[p[0]]) for p in pieces if len(p)]


def winners(verdict: Any, names: Sequence[str]) -> list[tuple]:
    """Runs of speeds by who has more torque: a name, or why nobody wins. verdict: LikeForLike."""
    labels, shown = [], verdict.meaningful()
    for k in range(len(verdict.rpm)):
        if not verdict.comparable[k]:
            labels.append("not comparable")
        elif verdict.masked[k]:
            labels.append("less than the doubt of the drift")
        elif not shown[k]:
            labels.append("no difference shown")
        else:
            labels.append(names[0] if verdict.torque[k] > 0.0 else names[1])
    return runs_of(verdict.rpm, labels)
