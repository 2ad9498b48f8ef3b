"""At which speeds do two manifolds differ, if all speeds are judged together?

Twenty speeds judged one by one at 95 % name a winner somewhere by chance far too often. Here the chance of
naming any winner where there is no difference is 5 % for the whole range, however the noise of one speed
goes with that of the next (step-down maximum, Westfall & Young 1993, Resampling-Based Multiple Testing;
by rotation, Langsrud 2005, Stat. Comput. 15: Rotation tests; both from memory).

    W     (f + 1, s): first row d over its standard error for noise of 1, d the difference at each speed
          (drift.py); below, what is left of the pulls, in orthonormal coordinates (f = nA + nB - 2, with a
          drift taken out - 3)

If nothing differs, the rows of W are f + 1 draws of the same normal noise, so any rotation of them is as
likely as what was seen: the first row becomes q W, q evenly spread over the unit sphere, and the others
keep the rest of each column's sum of squares. What is judged is max_s |first row| / spread, the spread
being that of the other rows over all speeds; a difference is shown where it exceeds the 95 % quantile of
this under rotation. Speeds where it does are taken out, as what truly differs says nothing of the noise
elsewhere, and the rest is judged again, until no more are found. For one speed, or noise that moves a pull
as a whole, this is Student's t test.

Assumed: normal noise, alike from pull to pull. Of how it differs between speeds nothing is assumed as long
as nothing differs; where some speeds do, the others' chance stays near 5 % if their noise is about equal
(tests/measured/test_family_wise.py).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.linalg import null_space

from aircolumn.measured.drift import design, freed_difference

DRAWS, SEED = 40_000, 1
TINY = 1e-300  # keeps a quotient finite


def least_shown(a: np.ndarray, b: np.ndarray, confidence: float, columns: np.ndarray | None = None) -> float:
    """How large a difference of two sets of pulls must be to be shown.

    Parameters
    ----------
    a, b : arrays (pulls, s)
        Readings of the two manifolds at the same speeds, as shares of a common level at each speed; NaN
        where a pull has none.
    confidence : float
        That no difference is shown where there is none.
    columns : array (N, p), optional
        What moves the pulls (drift.design; left out: the manifold alone). With a drift in it, W holds the
        difference freed of the drift, and the rows of noise are one fewer.

    Returns
    -------
    float
        In the unit of the readings, for as many pulls as ``a`` and ``b`` have; NaN without repeats.
    """
    if columns is None:
        columns = design(np.zeros(len(a)), np.zeros(len(b)), with_drift=False)
    if len(a) + len(b) <= columns.shape[1]:
        return float("nan")
    rows = _rows(np.concatenate([a, b]), columns)
    rows = rows[:, np.isfinite(rows).all(axis=0)]
    if not rows.size:
        return float("nan")
    rotated = np.abs(_directions(DRAWS, len(rows)) @ rows)
    total, seen = np.sum(rows**2, axis=0), np.abs(rows[0])
    left = np.ones(rows.shape[1], dtype=bool)
    while True:
        rest = np.maximum(total[left].sum() - np.sum(rotated[:, left] ** 2, axis=1), TINY)
        most = np.quantile(rotated[:, left].max(axis=1) / np.sqrt(rest), confidence)
        limit = most * np.sqrt(total[left].sum() - np.sum(seen[left] ** 2))
        shown = left & (seen > limit)
        if not shown.any() or np.array_equal(shown, left):
            return float(limit * np.sqrt(np.linalg.inv(columns.T @ columns)[0, 0]))
        left &= ~shown


@cache
def _directions(count: int, size: int) -> np.ndarray:
    """So many directions in a space of ``size`` dimensions, evenly spread."""
    q = np.random.default_rng(SEED).standard_normal((count, size))
    return q / np.linalg.norm(q, axis=1, keepdims=True)


def _rows(values: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """W (see above). Where a pull is missing at a speed, the others there count for it: what they show of
    the noise is taken as much larger as it lacks degrees of freedom."""
    delta, error, residuals = freed_difference(values, columns)
    full = len(values) - columns.shape[1]
    had = np.isfinite(values).sum(axis=0) - columns.shape[1]
    with np.errstate(invalid="ignore", divide="ignore"):
        lacking = np.sqrt(full / np.where(had > 0, had, np.nan))
    return np.vstack([delta / error, null_space(columns.T).T @ residuals * lacking])
