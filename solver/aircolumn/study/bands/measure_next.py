"""What to measure next: how much less often the choice would be wrong if one thing were known.

With the means of the candidates over the range that matters as straight lines in what is unknown (ridge
regression over the cases, which may be fewer than what is unknown: Hoerl & Kennard 1970, Technometrics 12),
and residuals that nobody can learn about, in many cases drawn anew,

    before    P(another than the chosen one is best)
    after     the mean, over what a measurement may show, of that probability once it is known and the choice
              made anew

Their difference is the value of the measurement in wrong choices (expected value of partial perfect
information with a loss of 0 or 1: Raiffa & Schlaifer, Applied Statistical Decision Theory, 1961). That the
straight lines hold is checked on cases that are left out, one at a time
(PRESS: Allen 1974, Technometrics 16); the penalty is the one that does best there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

if TYPE_CHECKING:
    from aircolumn.study.bands.cases import Cases

PLACES = 33  # that a measurement may show
DRAWS, SEED = 4096, 5  # cases drawn anew
PENALTIES = np.geomspace(1e-9, 1e2, 23)  # a case, of inputs with unit variance
WORTH = 0.01  # of wrong choices: a measurement that saves fewer is not told


@dataclass(frozen=True)
class Measurement:
    """One thing that could be measured: its key, what to do, and the share of wrong choices after it."""

    key: str
    settle: str
    after: float


@dataclass(frozen=True)
class NextMeasurements:
    """before: share of wrong choices as things stand; every: all measurements, the most useful first;
    explained: share of the variance of the candidates' differences that the straight lines explain in cases
    left out."""

    before: float
    every: list[Measurement]
    explained: float

    @property
    def worth(self) -> list[Measurement]:
        """Those that save wrong choices."""
        return [m for m in self.every if self.before - m.after >= WORTH]


def measure_next(cases: Cases, numbers: np.ndarray, means: np.ndarray, before: float) -> NextMeasurements:
    """Rank all that is unsure. numbers: (cases, inputs); means: (cases, candidates), N m; before: share of
    cases in which the choice is wrong."""
    x = cases.features(numbers)
    if x.shape[1] == 0 or means.shape[1] < 2:
        return NextMeasurements(before, [], 0.0)
    lines, residuals, explained = _fitted_lines(x, means)
    effects = lines @ cases.correlation  # of each with what goes with it
    many = cases.features(cases.drawn(DRAWS, SEED))
    unlearned = residuals[np.random.default_rng(SEED).integers(0, len(residuals), DRAWS)]
    every = means.mean(axis=0) + many @ lines.T + unlearned
    reference = _wrong(every)
    places = ndtri((np.arange(PLACES) + 0.5) / PLACES)[:, None]
    shown = cases.features(np.repeat(places, x.shape[1], axis=1))
    rows = []
    for k, (name, settle) in enumerate(zip(cases.names, cases.settle, strict=True)):
        # Known, it is the same in every case; what goes with it moves along.
        known = every - np.outer(many[:, k], effects[:, k])
        after = float(np.mean([_wrong(known + effects[:, k] * v) for v in shown[:, k]]))
        # The lines give the share that is saved; what it is saved from is counted in the cases.
        rows.append(Measurement(name, settle, before * min(after / reference, 1.0) if reference else 0.0))
    return NextMeasurements(before, sorted(rows, key=lambda m: m.after), explained)


def _fitted_lines(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """(slopes (candidates, inputs), residuals, share explained in cases left out) of the ridge that foretells
    cases left out best."""
    away, middle = x - x.mean(axis=0), y - y.mean(axis=0)
    u, s, vt = np.linalg.svd(away, full_matrices=False)
    tried = [_ridge(u, s, middle, len(x) * penalty) for penalty in PENALTIES]
    shrink, residuals, missed = min(tried, key=lambda ridge: ridge[2])
    slopes = vt.T @ (np.divide(shrink, s, out=np.zeros_like(s), where=s > 0.0)[:, None] * (u.T @ middle))
    scatter = float(np.sum(middle**2))
    freedom = max(len(x) - 1.0 - float(np.sum(shrink)), 1.0)
    return slopes.T, residuals * np.sqrt(len(x) / freedom), 1.0 - missed / scatter if scatter > 0.0 else 0.0


def _ridge(
    u: np.ndarray, s: np.ndarray, y: np.ndarray, penalty: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """(share kept of each direction, residuals, sum of squares in cases left out) with one penalty."""
    shrink = s**2 / (s**2 + penalty)
    residuals = y - u @ (shrink[:, None] * (u.T @ y))
    leverage = np.minimum(1.0 / len(y) + np.sum(u**2 * shrink, axis=1), 0.999)
    return shrink, residuals, float(np.sum((residuals / (1.0 - leverage)[:, None]) ** 2))


def _wrong(means: np.ndarray) -> float:
    """How often another candidate than that with the highest mean over the cases is best."""
    return float(np.mean(np.argmax(means, axis=1) != np.argmax(means.mean(axis=0))))
