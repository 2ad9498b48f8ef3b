"""The best over many engines without computing every design in all of them: few engines first, then twice as
many for those designs that may still be the best, until one is left in all (racing: Maron & Moore 1994,
Advances in Neural Information Processing 6, from memory).

A design is out when what it lacks to the best, resampled over the engines that both were computed in
(bootstrap: Efron 1979, Ann. Stat. 7), is above 0 in all but OUT of the resamplings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from aircolumn.questions.search.known import Design, KnownDesigns

FIRST, FIRST_OF_PERCENTILE = 8, 16  # engines in which every design is computed
MOST_ALIVE, FEWEST_ALIVE = 12, 4  # designs that go on from there, half as many each time
OUT, RESAMPLED, SEED = 0.005, 400, 7


def raced(known: KnownDesigns, engines: int, on: Callable[[int], KnownDesigns]) -> KnownDesigns:
    """The designs that are left, in all ``engines``; on(count): what is known in so many of them."""
    for count, most in stages(known.trials.count, engines):
        alive = still_in(known)[:most]
        known = on(count)
        if alive:
            known.look([d.share for d in alive])
    return known


def stages(first: int, engines: int) -> Iterator[tuple[int, int]]:
    """(engines, how many designs go on into them, at most) of every stage after the first."""
    count, most = first, MOST_ALIVE
    while count < engines:
        count = min(2 * count, engines)
        yield count, most
        most = max(most // 2, FEWEST_ALIVE)


def still_in(known: KnownDesigns) -> list[Design]:
    """The designs that may be the best, by what is known."""
    best, ranked = known.best, known.fitting
    if best is None or not ranked:
        nearest = sorted((d for d in known.every.values() if d.computed), key=lambda d: d.broken)
        return nearest
    return [d for d in ranked if d is best or lacks(best, d, known.percentile)[0] <= 0.0]


def lacks(best: Design, other: Design, percentile: int | None) -> tuple[float, float]:
    """What a design lacks to another in the engines of both, SI: between these ends, but for OUT at each."""
    both = np.isfinite(best.each) & np.isfinite(other.each)
    pairs = np.array([best.each[both], other.each[both]])
    picks = np.random.default_rng(SEED).integers(0, pairs.shape[1], (RESAMPLED, pairs.shape[1]))
    drawn = pairs[:, picks]
    taken = drawn.mean(axis=2) if percentile is None else np.percentile(drawn, percentile, axis=2)
    low, high = np.quantile(taken[0] - taken[1], [OUT, 1.0 - OUT])
    return float(low), float(high)
