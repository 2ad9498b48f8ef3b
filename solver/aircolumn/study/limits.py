"""How large a study may be: what can be checked beforehand, and what fits into memory or a week."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from aircolumn.study.axes import Axis
    from aircolumn.study.models import StudyFile

MOST_CASES, MOST_POINTS = 200_000, 1_000_000
MOST_AXES = 40
ENDS = 4  # cases looked at beforehand for each key
MOST_CHECKED = 400_000  # values of the engine file times these cases
USUAL_RATE = 20.0  # points a second on a few cores, for the time a study would take


def too_many_keys(keys: int, size: int) -> str:
    """Why so many keys of an engine file of ``size`` values cannot be checked; "" if they can."""
    if keys > MOST_AXES:
        return f"{keys} keys are varied; at most {MOST_AXES}"
    if keys * ENDS * size > MOST_CHECKED:
        most = MOST_CHECKED // ENDS // size
        return f"{keys} keys of an engine file of {size} values are too many; at most {most}"
    return ""


def cases_of(study: StudyFile, axes: Sequence[Axis]) -> tuple[str, int]:
    """(key of the study file that decides on it, how many cases are computed, about)."""
    if study.asked is not None:
        name, keys = study.asked
        return name, keys.cases(len(axes))
    if study.sample is not None:
        return "sample", study.sample.count
    if study.cases is not None:
        return "cases", len(study.cases)
    return "vary", math.prod(len(a.values) or 1 for a in axes)


def too_many_cases(cases: int, speeds: int) -> str:
    """Why so many cases cannot be computed; "" if they can."""
    if cases > MOST_CASES:
        return f"{cases} cases; at most {MOST_CASES}"
    points = cases * speeds
    if points > MOST_POINTS:
        hours = points / USUAL_RATE / 3600.0
        return (
            f"{cases} cases at {speeds} speeds are {points} points, about {hours:.0f} hours; at"
            f" most {MOST_POINTS}"
        )
    return ""
