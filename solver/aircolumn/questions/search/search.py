"""The best values of the varied keys, with few curves.

Curves are dear and smooth, and may have several humps over a length. So: the candidates as they stand and a
space-filling start (scipy.stats.qmc); then rounds in which an interpolant of what is known proposes the next
curve (proposals.py); last, a local search from the best known and steps to better neighbours (nearby.py).
With two aims what no other curve beats in both is the front (front.py).

All but the local search goes on on the long cells of the study's ``screening`` accuracy (cells.py); the
best curves are then computed again on those of the engine file's, at so many speeds that the aim is known
better than what is gained (sums.py), and the local search begins at the best of these. A limit must hold with
cells and time step halved too.

Over every engine that the file's may be (drawn.py), the same search goes on in a few of them, and the best
are computed in more and more until one is left (race.py).

Every curve comes from the store or goes there: a search that was stopped goes on where it was.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.errors import ComputationError
from aircolumn.questions.search.asked import Search, checked_aims
from aircolumn.questions.search.front import front_of, told_apart
from aircolumn.questions.search.known import Design, KnownDesigns, unlike
from aircolumn.questions.search.limits import OF_ENGINE, broken_words
from aircolumn.questions.search.nearby import Neighbours, neighbours, polish, to_better_neighbours
from aircolumn.questions.search.proposals import proposed
from aircolumn.questions.search.robust import Robust, curves_expected, most_robust
from aircolumn.questions.search.sizes import Sizes
from aircolumn.questions.search.sums import denser, error_of, span_of, with_needed
from aircolumn.questions.search.trials import Trials
from aircolumn.study.cells import StudyCells

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.executors import Executor
    from aircolumn.study.plan import Plan
    from aircolumn.study.store import Store

FIRST = 6  # curves of the start for each varied key
AGAIN, NEARLY, HAIR = 6, 3, 0.005  # of the best are computed again on shorter cells, and of the better ones
# that break limits by less than HAIR of them
MOST_TURNS = 4  # times the curves asked for: proposals, those that cannot be made among them
POLISH = 0.25  # share of the curves kept for the local search
LAST = 4  # curves for each key, after those, for steps to better neighbours
MOST_HALVINGS = 3  # of the distance between speeds
PART = 0.25  # of what is gained: as well the aim is to be known
PART_OF_FRONT = 0.02  # of the range of each aim along a front, in its place
CHECKS = 4  # times that limits are looked at with cells and time step halved


@dataclass
class SearchResult:
    """The best case and what is known about it.

    values: of the keys; best: its curve, which keeps all limits if ``fits``; known: all designs, the best on
    shorter cells; again: how many of them; front: those no other beats in both aims; beside: the neighbours
    of the best; recheck: the best with cells and step halved; stands: {candidate: as the file has it} (None:
    the file's own runner); errors: of each aim, by the speeds it is summed over, SI; robust: what many
    engines say; reserve: what every limit is kept by more than asked, SI, as finer cells take it.
    """

    values: tuple
    best: Design
    known: list[Design]
    front: list[Design]
    beside: Neighbours
    recheck: Design
    stands: dict[str | None, Design]
    errors: list[float]
    again: int = 0
    robust: Robust | None = None
    reserve: np.ndarray = field(default_factory=lambda: np.zeros(0))

    @property
    def judged(self) -> Design:
        """The best as it was judged: over the engines, or in the file's own."""
        return self.best if self.robust is None else self.robust.over

    @property
    def shown(self) -> list[Design]:
        """The designs with a curve that were judged alike: over many engines where they were, else in the
        file's own."""
        fewest = 1 if self.robust is None else 2
        return [d for d in self.known if len(d.each) >= fewest and d.computed]


class RunnerSearch:
    """A plan's search, with its store and executor. progress(points, about how many)."""

    def __init__(
        self,
        plan: Plan,
        store: Store,
        executor: Executor,
        progress: ProgressCallback | None = None,
        cells: StudyCells | None = None,
    ) -> None:
        self.cells = cells or StudyCells()
        self.plan, self.store, self.executor = plan, store, executor
        self.asked = plan.study.keys_of(Search)
        self.aims, self.limits = checked_aims(plan)
        self.sizes = Sizes(plan)
        of_curves = [limit for limit in self.limits if limit.of not in OF_ENGINE]
        self.figures = [*self.aims, *of_curves]
        self.speeds = with_needed(plan.speeds, self.figures)
        self.rng = np.random.default_rng(self.asked.seed)
        self.progress, self.points = progress or (lambda done, total: None), 0
        self.screened: dict[tuple, Design] = {}
        self.again = 0

    def run(self) -> SearchResult:
        """Search. Raises ComputationError if no curve could be computed."""
        known = self.first = self._on(True, self.speeds)
        local = 0 if len(self.aims) > 1 else int(POLISH * self.asked.evaluations)
        self.explore(known, [self.sizes.standing(n) for n in self.plan.bases], self.asked.evaluations - local)
        self._check_found(known)
        known = self._again(known)
        if local:
            polish(known, local)
            to_better_neighbours(known, LAST * len(self.sizes.axes))
        recheck = self._held(known)
        robust = None
        if self.asked.over is not None:
            robust = most_robust(self, known, self.asked.over)
            recheck = known.finer(robust.design, 2.0)
        best = required(known.best) if robust is None else robust.design
        beside = neighbours(known) if robust is None else robust.beside
        stands = {n: known.as_it_stands(n) for n in self.plan.bases}
        every = list({**self.screened, **known.every}.values())  # in the order of their first look
        return SearchResult(
            best.values,
            best,
            [*(robust.known if robust else []), *every],
            self._front(known),
            beside,
            recheck,
            stands,
            [self._error(known, k, [best]) for k in range(len(self.aims))],
            self.again,
            robust,
            known.reserve,
        )

    def explore(self, known: KnownDesigns, begin: list[np.ndarray], budget: int) -> None:
        """Look at some designs, at others spread over the spans, and at what the interpolant proposes."""
        first = min(max(FIRST * len(self.sizes.axes), 6), budget // 2)
        known.look(np.vstack([*begin, self.sizes.spread(max(first - len(begin), 1), self.rng)]))
        turn = 0
        while known.curves < budget and turn < MOST_TURNS * budget:
            known.look([proposed(known, turn, self.rng)])
            turn += 1

    def trials(self, speeds: np.ndarray, screening: bool = True) -> Trials:
        """Where curves come from, on long cells or on those of the file's accuracy."""
        cells = self.cells.screening if screening else self.cells.final
        return Trials(self.plan.on(cells, speeds), self.store, self.executor)

    def told(self, points: int) -> None:
        """Tell the progress of so many points more."""
        self.points += points
        curves, over = self.asked.evaluations, self.asked.over
        if over is not None:
            curves += curves_expected(over, self.asked.evaluations, len(self.sizes.axes))
        self.progress(self.points, max(curves * len(self.speeds), self.points))

    def _on(self, screening: bool, speeds: np.ndarray) -> KnownDesigns:
        trials = self.trials(speeds, screening)
        return KnownDesigns(
            self.sizes, trials, self.aims, self.limits, told=lambda n: self.told(n * len(trials.plan.speeds))
        )

    def _check_found(self, known: KnownDesigns) -> None:
        if any(d.computed for d in known.every.values()):
            return
        nearest, count = known.best, len(known.every)
        if nearest is not None:
            raise ComputationError(
                f"none of {count} engines keeps the limits that need no curve; the nearest,"
                f" {self.plan.case_words(nearest.values)}: {broken_words(self.limits, nearest)}"
            )
        reasons = {d.reason for d in known.every.values() if d.reason}
        why = next(iter(sorted(reasons)), known.failed)
        raise ComputationError(f"none of {count} engines can be computed: {why}")

    def _again(self, known: KnownDesigns) -> KnownDesigns:
        """The best on the cells of the final accuracy, at as many speeds as the aim needs; the search goes on
        there."""
        best, screens = self._finalists(known), self.cells.screens
        there = self._on(False, known.rpm) if screens else known
        if screens:
            self.screened, self.again = known.every, len(best)
            there.look([d.share for d in best])
        for _ in range(MOST_HALVINGS):
            best = [there.every[d.key] for d in best]
            speeds = denser(there.rpm, *span_of(self.figures, there.rpm))
            if self._sums_do(there, best) or len(speeds) == len(there.rpm):
                break
            self.screened = {**self.screened, **there.every}
            there = self._on(False, speeds)
            there.look([d.share for d in best])
        return there

    def _finalists(self, known: KnownDesigns) -> list[Design]:
        """The best, those as good within what the sums are off, those that hardly break a limit, the
        front."""
        ranked = known.fitting
        if not ranked:
            return [required(known.best)]
        best = ranked[0]
        error = 2.0 * max(np.nan_to_num(self._error(known, 0, ranked[:AGAIN])), 0.0)
        near = [d for d in ranked if d.aims[0] >= best.aims[0] - error][: 2 * AGAIN]
        better = [
            d
            for d in known.every.values()
            if d.computed and 0.0 < d.broken < HAIR and d.aims[0] > best.aims[0]
        ]
        better.sort(key=lambda d: d.broken)
        front = front_of(known.every.values()) if len(self.aims) > 1 else []
        return unlike([*ranked[:AGAIN], *near, *better[:NEARLY], *front])

    def _sums_do(self, known: KnownDesigns, designs: list[Design]) -> bool:
        """Whether the aims are known well enough at these speeds."""
        best = required(known.best)
        fine = self.plan.engine.numerics.accuracy
        stands = [known.as_it_stands(n).aims[0] for n in self.plan.bases]
        gain = best.aims[0] - np.nanmax(stands) if np.any(np.isfinite(stands)) else 0.0
        front = np.array([d.aims for d in front_of(designs)] or [best.aims])
        for k in range(len(self.aims)):
            gained = PART * gain if len(self.aims) == 1 else PART_OF_FRONT * float(np.ptp(front[:, k]))
            enough = max(fine * abs(best.aims[k]), gained)
            if not self._error(known, k, designs) <= enough:
                return False
        return True

    def _error(self, known: KnownDesigns, k: int, designs: list[Design]) -> float:
        """By how much an aim of any of the designs may be off for the speeds it is summed over, SI."""
        found = [error_of(self.aims[k], d.rpm, d.torque) for d in designs if d.computed]
        return max(found, default=float("nan"))

    def _front(self, known: KnownDesigns) -> list[Design]:
        if len(self.aims) < 2:
            return []
        return told_apart(front_of(known.every.values()), self.plan.engine.numerics.accuracy)

    def _held(self, known: KnownDesigns) -> Design:
        """The best with cells and time step halved, where it must keep the limits too; one that does not
        makes room for the next."""
        for _ in range(CHECKS):
            best = required(known.best)
            finer = known.finer(best, 2.0)
            if not best.fits or not np.any(finer.margins + known.reserve < 0.0):
                break
            known.keep_in_reserve(np.maximum(best.margins - finer.margins, 0.0) * 1.1)
            to_better_neighbours(known, LAST * len(self.sizes.axes))
        return known.finer(required(known.best), 2.0)


@dataclass
class Searched:
    """A search and what it found."""

    search: RunnerSearch
    found: SearchResult
