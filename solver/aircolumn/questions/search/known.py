"""Designs that were looked at, and what each is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.questions.aims import value_of
from aircolumn.questions.search.limits import OF_ENGINE
from aircolumn.questions.search.trials import Trial

if TYPE_CHECKING:
    from collections.abc import Callable

    from aircolumn.questions.aims import Aim
    from aircolumn.questions.search.limits import Limit
    from aircolumn.questions.search.sizes import Sizes
    from aircolumn.questions.search.trials import Trials

ENOUGH = 0.9  # share of the drawn engines in which a design must have a curve


@dataclass
class Design:
    """One choice of the varied keys and what came of it.

    share: 0 to 1 of the keys' spans; values: of the keys; rpm, torque: its curve, rev/min and N m, the mean
    over the engines; aims: values, NaN if there is none; figures, levels: of every limit what it has and what
    is asked, margins: by how much it is kept, SI; kept: share of the engines that keep it; each: the first
    aim in every engine; reason: why it cannot be made.
    """

    share: np.ndarray
    values: tuple
    rpm: np.ndarray
    torque: np.ndarray
    aims: np.ndarray
    figures: np.ndarray
    levels: np.ndarray
    margins: np.ndarray
    kept: np.ndarray
    each: np.ndarray
    reason: str = ""

    @property
    def computed(self) -> bool:
        """Whether it has a curve, and so a value of every aim."""
        return bool(np.all(np.isfinite(self.aims)))

    @property
    def fits(self) -> bool:
        """Whether there is a value and every limit is kept."""
        return self.computed and self.broken == 0.0

    @property
    def shortfalls(self) -> np.ndarray:
        """By how much of itself each limit is broken; 0 where it is kept."""
        short = np.maximum(-self.margins, 0.0)
        return np.where(np.isnan(short), 0.0, short / self.scales)

    @property
    def scales(self) -> np.ndarray:
        """What limits are broken or kept in shares of, SI."""
        return np.where(self.levels == 0.0, 1.0, np.abs(self.levels))

    @property
    def broken(self) -> float:
        """By how much of themselves limits are broken, all together."""
        return float(np.sum(self.shortfalls))

    @property
    def key(self) -> tuple:
        """What it is known by."""
        return tuple(self.share)


@dataclass
class KnownDesigns:
    """What is known on one set of cells, speeds and engines.

    percentile: what of the drawn engines counts, None for their mean; reserve: by how much more than asked
    every limit must be kept; refused: keys of the designs that cannot be made; told(): called when designs
    were looked at; failed: why a point could not be computed, the last; cheap: the same
    designs, and more, in the file's own engine alone.
    """

    sizes: Sizes
    trials: Trials
    aims: list[Aim]
    limits: list[Limit]
    percentile: int | None = None
    told: Callable[[int], None] = lambda curves: None
    every: dict[tuple, Design] = field(default_factory=dict)
    refused: set[tuple] = field(default_factory=set)
    reserve: np.ndarray = field(default_factory=lambda: np.zeros(0))
    failed: str = ""
    cheap: KnownDesigns | None = None

    def __post_init__(self) -> None:
        if not self.reserve.size:
            self.reserve = np.zeros(len(self.limits))

    @property
    def rpm(self) -> np.ndarray:
        """Speeds, rev/min."""
        return self.trials.plan.speeds

    @property
    def curves(self) -> int:
        """How many designs have been computed."""
        return len(self.every) - len(self.refused)

    def look(self, shares: Any) -> list[Design]:
        """Designs at these shares, computed together; looking again costs nothing."""
        rows = self.sizes.snapped(np.atleast_2d(np.asarray(shares, dtype=float)))
        new = {tuple(row): row for row in rows if tuple(row) not in self.every}
        values = {key: self.sizes.plan.scaled([row])[0] for key, row in new.items()}
        wanted = {key: row for key, row in new.items() if not self._known_to_break(key, row, values[key])}
        trials = self.trials.of([values[key] for key in wanted])
        for (key, row), trial in zip(wanted.items(), trials, strict=True):
            self.every[key] = self._judged(row, values[key], trial)
            self.failed = trial.failed or self.failed
            if trial.engine is None:
                self.refused.add(key)
        self.told(len(wanted))
        if self.cheap is not None:
            self.cheap.look(rows)
        return [self.every[tuple(row)] for row in rows]

    def finer(self, design: Design, refinement: float) -> Design:
        """A design on cells and time steps so many times finer."""
        (trial,) = self.trials.of([design.values], refinement)
        return self._judged(design.share, design.values, trial, refinement)

    def as_it_stands(self, name: str | None) -> Design:
        """A candidate as the file has it (None: the file's own runner)."""
        return self._judged(np.zeros(0), (), self._stands(name))

    @property
    def fitting(self) -> list[Design]:
        """Those that keep all limits, the best first."""
        return sorted((d for d in self.every.values() if d.fits), key=lambda d: -d.aims[0])

    @property
    def best(self) -> Design | None:
        """The best of those that keep all limits; without one, the nearest to keeping them; None if no design
        has a curve."""
        if fitting := self.fitting:
            return fitting[0]
        computed = [d for d in self.every.values() if d.computed]
        broken = computed or [d for d in self.every.values() if d.broken > 0.0]
        return min(broken, key=lambda d: (d.broken, -np.nan_to_num(d.aims[0])), default=None)

    def keep_in_reserve(self, more: np.ndarray) -> None:
        """Ask for so much more of every limit from now on (SI, 0 and more)."""
        self.reserve = self.reserve + more
        for design in self.every.values():
            design.margins = design.margins - more

    def _known_to_break(self, key: tuple, row: np.ndarray, values: tuple) -> bool:
        """Whether a design breaks a limit that needs no curve; it is then known, without one."""
        at = [k for k, limit in enumerate(self.limits) if limit.of in OF_ENGINE]
        if not at:
            return False
        engine = self.sizes.plan.case(values).engine
        if engine is None:
            return False
        missing = np.full(self.rpm.shape, np.nan)
        design = self._judged(row, values, Trial(missing[None], engine))
        if design.broken == 0.0:
            return False
        self.every[key] = design
        self.refused.add(key)
        return True

    def _judged(self, share: np.ndarray, values: tuple, trial: Trial, refinement: float = 1.0) -> Design:
        rows, rpm = trial.torque if len(trial.torque) else np.full((1, len(self.rpm)), np.nan), self.rpm
        count, limits = len(rows), self.limits
        aims = np.array([[value_of(a, rpm, t) for a in self.aims] for t in rows])
        figures = np.array([[limit.value(trial.engine, rpm, t) for limit in limits] for t in rows])
        levels = np.array([self._levels(limit, count, refinement) for limit in limits])
        levels = levels.reshape(-1, count).T
        signs = np.array([1.0 if limit.least else -1.0 for limit in self.limits])
        margins = (figures - levels) * signs
        return Design(
            share,
            values,
            self.rpm,
            rows.mean(axis=0),
            self._reduced(aims),
            self._reduced(figures),
            self._reduced(levels),
            self._reduced(margins) - self.reserve,
            np.mean(margins >= 0.0, axis=0),
            aims[:, 0],
            trial.reason,
        )

    def _reduced(self, values: np.ndarray) -> np.ndarray:
        """What counts of values (engines, n)."""
        known = np.isfinite(values)
        enough = known.mean(axis=0) >= ENOUGH
        found = np.full(values.shape[1], np.nan)
        for k in np.flatnonzero(enough):
            one = values[known[:, k], k]
            found[k] = one.mean() if self.percentile is None else np.percentile(one, self.percentile)
        return found

    def _levels(self, limit: Limit, count: int, refinement: float) -> np.ndarray:
        """What a limit asks in every engine."""
        bound = limit.bound
        if bound.of is None:
            return np.full(count, bound.value)
        trial = self._stands(bound.of, refinement)
        rows = trial.torque[:count] if limit.of not in OF_ENGINE else trial.torque[:1]
        own = np.array([limit.value(trial.engine, self.rpm, t) for t in rows])
        return bound.value * np.broadcast_to(own, (count,))

    def _stands(self, name: str | None, refinement: float = 1.0) -> Trial:
        if (name, refinement) not in self._standing:
            self._standing[name, refinement] = self.trials.of_runner(name, refinement)
        return self._standing[name, refinement]

    @cached_property
    def _standing(self) -> dict[tuple[str | None, float], Trial]:
        return {}


def unlike(designs: Sequence[Design]) -> list[Design]:
    """Each once."""
    return list({d.key: d for d in designs}.values())
