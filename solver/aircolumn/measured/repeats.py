"""How often to pull, and in which order, so that a comparison of manifolds proves something.

A difference d of two means of n pulls each, with the standard deviation s from pull to pull, is found with
the chance 1 - beta at the level alpha from

    n = 2 (z(1 - alpha/2) + z(1 - beta))^2 (s / d)^2

on (normal approximation, two sides; any text on statistics). With alpha of 5 % and 80 %: 15.7 (s / d)^2. A
drift, as of a battery, tyres of the dyno, or fuel that warms, is told from the manifold only if the first
comes back: A B A, or A B B A.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from scipy.special import ndtri

from aircolumn.display_units import percent
from aircolumn.errors import RequestError

LEVEL, POWER = 0.05, 0.8
FEWEST, MOST = 3, 60  # pulls of each manifold


@dataclass(frozen=True)
class PullPlan:
    """each: pulls of every manifold; order: manifolds as they are bolted on, the first one twice; of each
    block so many pulls: blocks."""

    each: int
    order: list[str]
    blocks: list[int]


def pulls_needed(difference: float, repeatability: float) -> int:
    """Pulls of each manifold.

    Parameters
    ----------
    difference, repeatability : float
        d and s, in the same unit.

    Returns
    -------
    int

    Examples
    --------
    >>> pulls_needed(1.0, 0.5)  # 15.7 / 4
    4
    """
    factor = ndtri(1.0 - 0.5 * LEVEL) + ndtri(POWER)
    return max(FEWEST, ceil(2.0 * (factor * repeatability / difference) ** 2 - 1e-9))


def planned_test(names: Sequence[str], difference: float, repeatability: float) -> PullPlan:
    """Order and pulls for a comparison of manifolds. Raises RequestError if nobody would pull so often."""
    each = pulls_needed(difference, repeatability)
    if each > MOST:
        raise RequestError(
            f"to show {percent(difference)} with pulls that scatter by {percent(repeatability)}"
            f" takes {each} pulls of each manifold; ask for a larger difference, or steady the test cell"
            f" (at most {MOST} are planned)"
        )
    if len(names) < 2:
        return PullPlan(each, list(names), [each])
    half = ceil(each / 2)
    return PullPlan(each, [*names, names[0]], [half, *[each] * (len(names) - 1), each - half or half])
