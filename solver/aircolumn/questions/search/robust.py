"""The best over every engine that the file's may be, beside the best for the file as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from aircolumn.engine.description.base import required
from aircolumn.questions.search.drawn import DrawnEngines
from aircolumn.questions.search.known import KnownDesigns, unlike
from aircolumn.questions.search.nearby import Neighbours, neighbours
from aircolumn.questions.search.race import FIRST, lacks, raced
from aircolumn.questions.search.trials import Trials

if TYPE_CHECKING:
    from aircolumn.questions.search.asked import Over
    from aircolumn.questions.search.known import Design
    from aircolumn.questions.search.search import RunnerSearch

SHARE = 0.5  # of the curves asked for: designs looked at in the first engines
BEGIN = 6  # of the best for the file's own engine, among them
NEXT = 16  # engines in which the neighbours of the best are computed
STEPS = 2  # times a better neighbour takes the place of the best


@dataclass(frozen=True)
class Robust:
    """What many engines say.

    design: the best over them, its curve that of the file's own engine; over: the same over the engines; own:
    the best for the file's own engine, own_over: the same over the engines; beside: neighbours of the best,
    in NEXT engines, near: the best there; lacking: between what the file's best lacks to it over the engines,
    SI; known: all designs, in as many engines as they were computed in.
    """

    design: Design
    over: Design
    own: Design
    own_over: Design
    beside: Neighbours
    near: Design
    lacking: tuple[float, float]
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
    stages = [on(FIRST)]
    begin = [d.share for d in own.fitting[:BEGIN]] or [required(own.best).share]
    search.explore(stages[0], begin, max(int(SHARE * search.asked.evaluations), len(begin) + 4))

    def next_stage(count: int) -> KnownDesigns:
        stages.append(on(count))
        return stages[-1]

    every = raced(stages[0], over.engines, next_stage)
    best_own = required(own.best)
    (own_over,) = every.look([best_own.share])
    near = on(min(NEXT, over.engines))
    best = required(every.best)
    for _ in range(1 + STEPS):
        (there,) = near.look([best.share])
        beside = neighbours(near, of=there)
        better = [d for row in beside.values() for _, d in row if d is not None and d.fits]
        better = [d for d in better if not there.fits or d.aims[0] > there.aims[0]]
        if not better:
            break
        every.look([max(better, key=lambda d: d.aims[0]).share])
        if required(every.best) is best:
            break
        best = required(every.best)
    (design,) = own.look([best.share])
    stages.append(near)
    known = {d.key: d for stage in stages for d in stage.every.values()} | every.every
    return Robust(
        design,
        best,
        best_own,
        own_over,
        beside,
        there,
        lacks(best, own_over, over.percentile),
        unlike(list(known.values())),
    )


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
