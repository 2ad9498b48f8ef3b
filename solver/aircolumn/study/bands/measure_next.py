"""What to measure next: how much less often the choice would be wrong if one thing were known.

With the means of the candidates over the range that matters as straight lines in what is unknown (least
squares over the cases), and normal residuals that nobody can learn about,

    before    P(another than the chosen one is best)
    after     the mean, over what a measurement may show, of that probability once it is known and the choice
              made anew

Their difference is the value of the measurement in wrong choices (expected value of partial perfect
information with a loss of 0 or 1: Raiffa & Schlaifer, Applied Statistical Decision Theory, 1961). That the
straight lines hold is checked on cases that are left out, one at a time
(PRESS: Allen 1974, Technometrics 16).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import norm, qmc

if TYPE_CHECKING:
    from aircolumn.study.bands.cases import Cases

PLACES = 33  # that a measurement may show
DRAWS = 2048  # of the candidates' means, for each
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
    lines, residuals, explained = _fitted_lines(x, means - means.mean(axis=1, keepdims=True))
    effects = lines @ cases.correlation  # covariance of the candidates with each
    centre = (means - means.mean(axis=1, keepdims=True)).mean(axis=0)
    total = lines @ cases.correlation @ lines.T + np.cov(residuals.T)
    normal = norm.ppf(qmc.Sobol(len(centre), rng=np.random.default_rng(5)).random(DRAWS).clip(1e-9, 1 - 1e-9))
    reference = _wrong(centre, total, normal)
    shown = cases.features(
        np.repeat(norm.ppf((np.arange(PLACES) + 0.5) / PLACES)[:, None], x.shape[1], axis=1)
    )
    rows = []
    for k, (name, settle) in enumerate(zip(cases.names, cases.settle, strict=True)):
        left = total - np.outer(effects[:, k], effects[:, k])
        after = np.mean([_wrong(centre + effects[:, k] * v, left, normal) for v in shown[:, k]])
        # The lines give the share that is saved; what it is saved from is counted in the cases.
        rows.append(
            Measurement(name, settle, before * min(float(after) / reference, 1.0) if reference else 0.0)
        )
    return NextMeasurements(before, sorted(rows, key=lambda m: m.after), explained)


def _fitted_lines(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """(slopes (candidates, inputs), residuals, share explained in cases left out)."""
    plane = np.column_stack([np.ones(len(x)), x])
    q, r = np.linalg.qr(plane)
    found = np.linalg.lstsq(r, q.T @ y, rcond=None)[0]
    residuals = y - plane @ found
    leverage = np.minimum(np.sum(q**2, axis=1), 0.999)
    left_out = residuals / (1.0 - leverage)[:, None]
    scatter = np.sum((y - y.mean(axis=0)) ** 2)
    explained = 1.0 - float(np.sum(left_out**2) / scatter) if scatter > 0.0 else 0.0
    freedom = max(len(x) - plane.shape[1], 1)
    return found[1:].T, residuals * np.sqrt(len(x) / freedom), explained


def _wrong(centre: np.ndarray, covariance: np.ndarray, normal: np.ndarray) -> float:
    """How often another candidate than that with the highest mean is best."""
    values, vectors = np.linalg.eigh(covariance)
    drawn = centre + normal @ (vectors * np.sqrt(np.maximum(values, 0.0))).T
    return float(np.mean(np.argmax(drawn, axis=1) != np.argmax(centre)))
