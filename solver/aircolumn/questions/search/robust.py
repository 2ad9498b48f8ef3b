"""The best over every engine that the file's may be, beside the best for the file as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.questions.search.drawn import DrawnEngines
from aircolumn.questions.search.known import KnownDesigns
from aircolumn.questions.search.nearby import Neighbours, neighbours, to_better_neighbours
from aircolumn.questions.search.race import (
    FEWEST_ALIVE,
    FIRST,
    FIRST_OF_PERCENTILE,
    lacks,
    raced,
    stages,
)
from aircolumn.questions.search.trials import Trials

if TYPE_CHECKING:
    from aircolumn.questions.search.asked import Over
    from aircolumn.questions.search.known import Design
    from aircolumn.questions.search.search import RunnerSearch

SHARE = 0.75  # of the curves asked for: designs looked at in the first engines
BEGIN = 3  # of the best for the file's own engine, among them
NEXT = 32  # engines in which steps from the best are tried
STEPS = 3  # of them for each key, and those that show that no plain step is better


@dataclass(frozen=True)
class Robust:
    """What many engines say.

    design: the best over them, its curve that of the file's own engine; over: the same over the engines; own:
    the best for the file's own engine, own_over: the same over the engines; beside: neighbours of the best,
    in NEXT engines, near: the best there; lacking: between what the file's best lacks to it over the engines,
    SI; stands: {candidate: as the file has it, over the engines}, the best of them; known: all designs, in as
    many engines as they were computed in.
    """

    design: Design
    over: Design
    own: Design
    own_over: Design
    beside: Neighbours
    near: Design
    lacking: tuple[float, float]
    stands: dict[str | None, Design]
    known: list[Design]

    @property
    def differs(self) -> bool:
        """Whether the best over the engines is another than that for the file's own."""
        return self.design.key != self.own.key

    @property
    def gained(self) -> float:
        """By how much it beats the file's best over the engines, SI."""
        return float(self.over.aims[0] - self.own_over.aims[0])

    @property
    def cost(self) -> float:
        """What it costs if the file's own engine is the true one, SI."""
        return float(self.own.aims[0] - self.design.aims[0])


def most_robust(search: RunnerSearch, own: KnownDesigns, over: Over) -> Robust:
    """The best over the engines of ``over``; own: what is known of the file's own engine."""
    drawn = DrawnEngines(search.plan, over.engines)
    on = partial(_in_engines, search, drawn, over)
    known = [on(_first(over))]
    known[0].cheap = search.first
    begin = [d.share for d in own.fitting[:BEGIN]] or [required(own.best).share]
    search.explore(known[0], begin, max(int(SHARE * search.asked.evaluations), len(begin) + 4))

    def next_stage(count: int) -> KnownDesigns:
        known.append(on(count))
        return known[-1]

    every = raced(known[0], over.engines, next_stage)
    best_own = required(own.best)
    (own_over,) = every.look([best_own.share])
    near = next_stage(min(NEXT, over.engines))
    near.look([d.share for d in every.every.values()])
    to_better_neighbours(near, STEPS * len(search.sizes.axes))
    every.look([required(near.best).share])
    best = required(every.best)
    (there,) = near.look([best.share])
    beside = neighbours(near, of=there)
    (design,) = own.look([best.share])
    designs = {d.key: d for stage in known for d in stage.every.values()} | every.every
    return Robust(
        design,
        best,
        best_own,
        own_over,
        beside,
        there,
        lacks(best, own_over, over.percentile),
        {name: every.as_it_stands(name) for name in _best_standing(search, own)},
        list(designs.values()),
    )


def _first(over: Over) -> int:
    """Engines in which every design is computed."""
    return FIRST if over.percentile is None else FIRST_OF_PERCENTILE


def curves_expected(over: Over, evaluations: int, keys: int) -> int:
    """How many curves the search over engines computes or looks up, about: for its progress."""
    first = _first(over)
    curves = int(SHARE * evaluations) * first
    curves += sum(count * most for count, most in stages(first, over.engines))
    return curves + (FEWEST_ALIVE + 4 * keys) * min(NEXT, over.engines) + 3 * over.engines


def _best_standing(search: RunnerSearch, own: KnownDesigns) -> list[str | None]:
    """The candidate that is best as the file has it."""
    aims = {n: float(np.nan_to_num(own.as_it_stands(n).aims[0])) for n in search.plan.bases}
    return [max(aims, key=lambda n: aims[n])]


def _in_engines(search: RunnerSearch, drawn: DrawnEngines, over: Over, count: int) -> KnownDesigns:
    plan = search.trials(search.speeds).plan
    trials = Trials(plan, search.store, search.executor, drawn, count)
    points = count * len(plan.speeds)
    return KnownDesigns(
        search.sizes,
        trials,
        search.aims,
        search.limits,
        over.percentile,
        lambda n: search.told(n * points),
    )
