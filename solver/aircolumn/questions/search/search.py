"""The best values of the varied keys, with few curves.

Curves are dear and smooth, and may have several humps over a length. So: a space-filling start
(scipy.stats.qmc); then rounds in which a cubic radial-basis interpolant of what is known
(scipy.interpolate.RBFInterpolator; Gutmann 2001, J. Global Optim. 19) proposes the next curve, by
turns where it is highest and where it is both high and far from all known (the metric response
surface of Regis & Shoemaker 2007, INFORMS J. Comput. 19); last, a local search from the best known
(scipy.optimize.minimize, COBYQA of Ragonneau 2022) and steps along the axes to better neighbours,
halved until none is (compass search: Kolda, Lewis & Torczon 2003, SIAM Rev. 45). Limits enter as
constraints on the interpolant and in the local search. With two aims each round weighs them anew
(ParEGO, Knowles 2006, IEEE Trans. Evol. Comput. 10) and what no other curve beats in both is the
front.

All but the local search goes on on the long cells of the study's ``screening`` accuracy (cells.py); the
best curves are then computed again on those of the engine file's, and the local search begins at the
best of these.

Every curve comes from the store or goes there: a search that was stopped goes on where it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
from pydantic import Field
from scipy.interpolate import RBFInterpolator
from scipy.optimize import NonlinearConstraint, minimize
from scipy.stats import qmc

from aircolumn.curves.interest import interest
from aircolumn.engine.description.base import FileModel, whole_number
from aircolumn.engine.description.quantities import Speed
from aircolumn.engine.description.units import quantity
from aircolumn.errors import ComputationError
from aircolumn.questions.aims import Aim, check_aim, value_of
from aircolumn.study.cells import StudyCells
from aircolumn.study.models import Asked
from aircolumn.study.plan import Plan
from aircolumn.study.points import computed
from aircolumn.study.store import Store

if TYPE_CHECKING:
    from aircolumn.protocols import ProgressCallback
    from aircolumn.study.axes import Axis
    from aircolumn.study.executors import Executor
    from aircolumn.study.tasks import Outcome

Torque = Annotated[float, quantity("torque", at_least="-1000 N m", at_most="10000 N m")]
NEAR, CLOSE = 0.05, 0.002  # of the span: how near the best candidates are tried, and where trying ends
AUGMENTED = 0.05  # share of the sum in the weighted aim (augmented Chebyshev; Miettinen 1999, section 3.4)
PLAIN_STEPS = 40.0  # of a span, before rounding to a plain number: what a builder may miss a size by
FIRST = 6  # curves of the start for each varied key
AGAIN = 6  # of the best curves are computed again on shorter cells, and the front
MOST_TURNS = 4  # times the curves asked for: proposals, those that cannot be made among them
CANDIDATES = 2048  # places looked at on the interpolant each round
FAR = (1.0, 0.5, 0.95, 0.7)  # weight of height against distance, by turns
POLISH = 0.25  # share of the curves kept for the local search
LAST, FINEST = (
    4,
    0.25,
)  # curves for each key, after those, for steps to better neighbours; least step


class Limit(FileModel):
    """Torque that must be kept at a speed."""

    at: Speed
    at_least: Torque


class Search(Asked):
    """Look for the best values of the varied keys within from and to.

    evaluations: curves computed, before a few last ones around the best; second_aim: find the
    trade-off between two aims.
    """

    aim: Aim = Aim()
    second_aim: Aim | None = None
    limits: list[Limit] = Field([])
    evaluations: Annotated[int, whole_number(10, 5000)] = 40
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0

    def cases(self, keys: int) -> int:
        """The curves asked for."""
        return self.evaluations


@dataclass
class Candidate:
    """A curve that was computed: shares 0 to 1 of the spans, values of the aims (NaN if it
    failed), by how much each limit is kept (N m), torque over the plan's speeds."""

    share: np.ndarray
    aims: np.ndarray
    margins: np.ndarray
    torque: np.ndarray

    @property
    def fits(self) -> bool:
        """Whether there is a value and every limit is kept."""
        return bool(np.all(np.isfinite(self.aims)) and np.all(self.margins >= 0.0))


@dataclass
class SearchResult:
    """The best case and what is known about it.

    values: of the axes; best: its curve; known: all curves, the best on shorter cells; again: how many
    that were; front: those no other beats in both
    aims; neighbours: {axis name: (step as written, curve a step below, a step above; None past the
    end of the span)}; recheck: the aim on half-size cells.
    """

    values: tuple
    best: Candidate
    known: list[Candidate]
    front: list[Candidate]
    neighbours: dict
    recheck: float
    again: int = 0


def checked_aims(plan: Plan) -> list[Aim]:
    """The aims of a plan's search, their ranges filled in. Raises RequestError where the plan's
    speeds do not cover an aim or a limit."""
    asked = plan.study.keys_of(Search)
    span = interest(plan.engine.speeds, plan.speeds)
    for limit in asked.limits:
        check_aim(_as_aim(limit), plan.speeds, span)
    aims = [a for a in (asked.aim, asked.second_aim) if a is not None]
    return [check_aim(a, plan.speeds, span) for a in aims]


class RunnerSearch:
    """A plan's search, with its store and executor. progress(curves, budget)."""

    def __init__(
        self,
        plan: Plan,
        store: Store,
        executor: Executor,
        progress: ProgressCallback | None = None,
        cells: StudyCells | None = None,
    ) -> None:
        self.cells = cells or StudyCells()
        self.plan, self.store, self.executor = plan.on(self.cells.screening), store, executor
        self.asked = plan.study.keys_of(Search)
        self.progress = progress or (lambda done, total: None)
        self.aims = checked_aims(plan)
        self.known: dict[tuple, Candidate] = {}
        self.screened: dict[tuple, Candidate] = {}  # on long cells, the best too
        self.again = 0
        self.refused: set[tuple] = set()  # shares of what the engine file cannot be, as where no route fits
        self.rng = np.random.default_rng(self.asked.seed)

    def run(self) -> SearchResult:
        """Search; raises ComputationError if no curve has a value and keeps the limits."""
        budget, size = self.asked.evaluations, len(self.plan.axes)
        first = min(max(FIRST * size, 6), budget // 2)
        spread = qmc.LatinHypercube(size, optimization="random-cd", rng=self.rng)
        self.look(spread.random(first))
        local = 0 if len(self.aims) > 1 else int(POLISH * budget)
        turn = 0
        while len(self.known) - len(self.refused) < budget - local and turn < MOST_TURNS * budget:
            self.look([self._proposed(turn)])
            turn += 1
        if self.cells.screens:
            self._again()
        if local and any(k.fits for k in self.known.values()):
            self._polish(budget)
        return self._found()

    def _again(self) -> None:
        """The best on the cells of the final accuracy, on which the search goes on."""
        fitting = sorted((k for k in self.known.values() if k.fits), key=lambda k: -k.aims[0])
        best = {tuple(k.share): k for k in fitting[:AGAIN]}
        if len(self.aims) > 1:
            best |= {tuple(k.share): k for k in front_of(list(self.known.values()))}
        self.screened, self.known = self.known, {}
        self.plan, self.again = self.plan.on(self.cells.final), len(best)
        if best:
            self.look(list(best))

    @property
    def curves(self) -> int:
        """How many different ones are known."""
        return len({*self.known, *self.screened} - self.refused)

    def look(self, shares: Any) -> list[Candidate]:
        """Curves at these shares, computed together; looking again costs nothing."""
        rows = self._whole(np.atleast_2d(shares))
        table = computed(self.plan, self.plan.scaled(rows), self.store, self.executor)
        found = [self._judged(row, out) for row, out in zip(rows, table, strict=True)]
        self.known.update({tuple(row): k for row, k in zip(rows, found, strict=True)})
        nothing = [k.share for k in found if not np.any(np.isfinite(k.torque))]
        refused = [s for s in nothing if self.plan.case(self.plan.scaled([s])[0]).engine is None]
        self.refused |= {tuple(s) for s in refused}
        self.progress(self.curves, self.asked.evaluations)
        return found

    def _whole(self, rows: np.ndarray) -> np.ndarray:
        """Shares of axes with whole numbers only, on those numbers."""
        rows = np.round(np.clip(rows, 0.0, 1.0), 9)
        for k, axis in enumerate(self.plan.axes):
            if axis.whole:
                span = axis.high - axis.low
                rows[:, k] = np.round(rows[:, k] * span) / span
        return rows

    def _judged(self, share: np.ndarray, outcomes: Sequence[Outcome]) -> Candidate:
        torque = np.array([o.figure("torque") for o in outcomes])
        rpm = self.plan.speeds
        aims = np.array([value_of(a, rpm, torque) for a in self.aims])
        margins = np.array(
            [value_of(_as_aim(limit), rpm, torque) - limit.at_least for limit in self.asked.limits]
        )
        return Candidate(share, aims, margins, torque)

    def _proposed(self, turn: int) -> np.ndarray:
        """Where to look next."""
        sound = [k for k in self.known.values() if np.all(np.isfinite(k.aims))]
        size = len(self.plan.axes)
        places = qmc.Sobol(size, rng=self.rng).random(CANDIDATES)
        if len(sound) < size + 2:
            return places[0]
        best = max(sound, key=lambda k: (k.fits, self._height(k.aims[None], sound, None)[0]))
        near = best.share + self.rng.normal(0.0, NEAR, (CANDIDATES // 4, size))
        places = np.vstack([places, np.clip(near, 0.0, 1.0)])
        shares = np.array([k.share for k in sound])
        everything = np.array([k.share for k in self.known.values()])
        guess = _interpolated(shares, [k.aims for k in sound], places)
        weights = self.rng.dirichlet(np.ones(len(self.aims)))
        height = self._height(guess, sound, weights)
        if self.asked.limits:
            margins = np.array([k.margins for k in sound])
            kept = _interpolated(shares, margins, places)
            # What breaks a limit is worth less than anything that keeps it.
            broken = -np.minimum(kept / (np.ptp(margins, axis=0) + 1e-9), 0.0).sum(axis=1)
            height = np.where(broken > 0.0, height.min() - np.ptp(height) * broken, height)
        away = np.linalg.norm(places[:, None] - everything[None], axis=2)
        distance = np.min(away, axis=1)
        weight = FAR[turn % len(FAR)]
        score = weight * _unit(height) + (1.0 - weight) * _unit(distance)
        score[distance < 1e-3] = -np.inf
        refused = np.array([tuple(k.share) in self.refused for k in self.known.values()])
        score[refused[np.argmin(away, axis=1)]] = -np.inf  # as near to what cannot be made as to anything
        return places[int(np.argmax(score))]

    def _height(
        self, values: np.ndarray, sound: Sequence[Candidate], weights: np.ndarray | None
    ) -> np.ndarray:
        """One figure from the aims: the first alone, or both weighed over their known ranges."""
        if values.shape[1] == 1:
            return values[:, 0]
        known = np.array([k.aims for k in sound])
        low, span = known.min(axis=0), np.ptp(known, axis=0)
        scaled = (values - low) / np.where(span > 0.0, span, 1.0)
        if weights is None:
            weights = np.full(values.shape[1], 1.0 / values.shape[1])
        return np.min(scaled * weights, axis=1) + AUGMENTED * scaled @ weights

    def _polish(self, budget: int) -> None:
        """A local search from the best known, within the curves that are left."""
        best = self._best()
        scale = abs(best.aims[0]) or 1.0

        def at(x: Any) -> Any:
            return self.look([x])[0]

        def loss(x: Any) -> Any:
            value = at(x).aims[0]
            return -value / scale if np.isfinite(value) else 1.0

        limits = []
        if self.asked.limits:

            def margins(x: Any) -> Any:
                return np.nan_to_num(at(x).margins / scale, nan=-1.0)

            limits = [NonlinearConstraint(margins, 0.0, np.inf)]

        minimize(
            loss,
            best.share,
            method="COBYQA",
            bounds=[(0.0, 1.0)] * len(best.share),
            constraints=limits,
            options={
                "initial_tr_radius": NEAR,
                "final_tr_radius": CLOSE,
                "maxfev": max(budget - self.curves, 1),
            },
        )

    def _best(self) -> Candidate:
        fitting = [k for k in self.known.values() if k.fits]
        if not fitting:
            raise ComputationError(
                f"none of {len(self.known)} curves keeps all limits; widen the spans or the limits"
            )
        return max(fitting, key=lambda k: k.aims[0])

    def _found(self) -> SearchResult:
        scale = 1.0
        most = len(self.known) + LAST * len(self.plan.axes)
        while scale >= FINEST and len(self.known) < most:
            best = self._best()
            self._around(best, scale)
            if self._best() is best:  # no neighbour is better
                scale *= 0.5
        best = self._best()
        neighbours = self._around(best, 1.0)
        front = front_of(list(self.known.values())) if len(self.aims) > 1 else []
        known = [*self.known.values(), *(k for at, k in self.screened.items() if at not in self.known)]
        values = self.plan.scaled([best.share])[0]
        return SearchResult(values, best, known, front, neighbours, self._recheck(best), self.again)

    def _around(self, best: Candidate, scale: float) -> dict:
        """{axis name: (a plain step times scale as written, the curves one such step below and
        above the best)}."""
        axes = enumerate(self.plan.axes)
        return {a.name: self._beside(best, k, a, scale * _plain_step(a)) for k, a in axes}

    def _beside(
        self, best: Candidate, k: int, axis: Axis, step: float
    ) -> tuple[str, Candidate | None, Candidate | None]:
        curves = []
        for sign in (-1.0, 1.0):
            share = best.share.copy()
            share[k] += sign * step / (axis.high - axis.low)
            inside = -1e-9 <= share[k] <= 1.0 + 1e-9
            curves.append(self.look([share])[0] if inside else None)
        return f"{step:g} {axis.unit}".rstrip(), curves[0], curves[1]

    def _recheck(self, best: Candidate) -> float:
        """The first aim of the best case with cells and step halved."""
        rows = self.plan.scaled([best.share])
        (outcomes,) = computed(self.plan, rows, self.store, self.executor, refinement=2.0)
        return float(self._judged(best.share, outcomes).aims[0])


def front_of(known: Sequence[Candidate]) -> list[Candidate]:
    """The curves that keep the limits and that no other beats in both aims, by the first aim."""
    fitting = [k for k in known if k.fits]
    front = [
        k for k in fitting if not any(np.all(o.aims >= k.aims) and np.any(o.aims > k.aims) for o in fitting)
    ]
    return sorted(front, key=lambda k: k.aims[0])


def _interpolated(shares: np.ndarray, values: Any, places: np.ndarray) -> np.ndarray:
    """``values`` at ``shares`` read off at ``places``."""
    return RBFInterpolator(shares, np.array(values), kernel="cubic", degree=1)(places)


def _as_aim(limit: Limit) -> Aim:
    return Aim.model_construct(of="torque", at=limit.at, start=None, stop=None, speeds=None)


def _unit(values: np.ndarray) -> np.ndarray:
    """Values brought into 0 to 1."""
    low, span = np.min(values), np.ptp(values)
    return (values - low) / span if span > 0.0 else np.zeros_like(values)


def _plain_step(axis: Axis) -> float:
    """A step a maker thinks in, about a fiftieth to a twentieth of the span: 1, 2 or 5 times a
    power of ten."""
    if axis.whole:
        return 1.0
    rough = (axis.high - axis.low) / PLAIN_STEPS
    power = 10.0 ** np.floor(np.log10(rough))
    return float(next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough))


@dataclass(frozen=True)
class Searched:
    """A search and what it found."""

    search: RunnerSearch
    found: SearchResult
