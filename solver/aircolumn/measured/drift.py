"""The drift of a session, told by the return to the first manifold, and the difference freed of it.

Pulls of two manifolds a and b, run in the order t = 0, 1, 2 ...; at each speed

    T / level = m + 1/2 delta g + d t + noise,     g = +1 for a, -1 for b

by least squares (any text on linear models, e.g. Seber & Lee, Linear Regression Analysis, ch. 3). delta is
the difference, d the drift a pull. The drift of the session is that of the pulls' means over the speeds, with
Student's interval at N - 3 degrees of freedom. It can be told from the difference only where a manifold comes
back (A B A): without that, g and t say nearly the same. A drift that is not steady is not in this model."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.stats import t as student


@dataclass(frozen=True)
class Drift:
    """Relative change of torque per pull, the half-width of its interval (NaN without repeats), its degrees
    of freedom, and how many pulls lie between the first and the last of the manifold that came back."""

    per_pull: float
    half_width: float
    freedom: int
    steps: int

    @property
    def session(self) -> float:
        """From the first pull of the manifold that came back to its last."""
        return self.per_pull * self.steps

    @property
    def session_half_width(self) -> float:
        """Of the interval of ``session``."""
        return self.half_width * self.steps


def comes_back(order_a: np.ndarray, order_b: np.ndarray) -> bool:
    """Whether one manifold was run again after the other (orders of their pulls)."""
    whose = [name for _, name in sorted([*((t, "a") for t in order_a), *((t, "b") for t in order_b)])]
    return sum(x != y for x, y in pairwise(whose)) >= 2


def design(order_a: np.ndarray, order_b: np.ndarray, with_drift: bool) -> np.ndarray:
    """Columns (N, 2 or 3): 1/2 g, 1, and t about its mean, rows of a before those of b."""
    g = np.concatenate([np.full(len(order_a), 0.5), np.full(len(order_b), -0.5)])
    columns = [g, np.ones_like(g)]
    if with_drift:
        t = np.concatenate([order_a, order_b]).astype(float)
        columns.append(t - t.mean())
    return np.array(columns).T


def drift_of(a: np.ndarray, b: np.ndarray, order_a: np.ndarray, order_b: np.ndarray) -> Drift:
    """The drift of a session in which a manifold comes back.

    Parameters
    ----------
    a, b : arrays (pulls, s)
        Torque of the two manifolds at the same speeds; NaN where a pull has none.
    order_a, order_b : arrays (pulls,)
        When each pull was run: 0, 1, 2 ... through both.
    """
    level = np.concatenate([np.nanmean(x / np.nanmean(x, axis=0), axis=1) for x in (a, b)])
    columns = design(order_a, order_b, with_drift=True)
    found, *_ = np.linalg.lstsq(columns, level, rcond=None)
    freedom = len(level) - columns.shape[1]
    back = order_a if np.ptp(order_a) >= np.ptp(order_b) else order_b
    wide = float("nan")
    if freedom > 0:
        variance = np.sum((level - columns @ found) ** 2) / freedom
        error = np.sqrt(variance * np.linalg.inv(columns.T @ columns)[2, 2])
        wide = float(student.ppf(0.975, freedom) * error)
    return Drift(float(found[2]), wide, freedom, int(np.ptp(back)))


def freed_difference(values: np.ndarray, columns: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Least squares at each speed, with the pulls that have a reading there.

    Parameters
    ----------
    values : array (N, s)
        Readings as shares of a common level.
    columns : array (N, p)
        See design.

    Returns
    -------
    delta, error, residuals : arrays (s,), (s,), (N, s)
        The difference, its standard error over the noise's, and what is left; NaN where the pulls there
        cannot tell it. Residuals of pulls that are missing are 0.
    """
    count = values.shape[1]
    delta, error = np.full(count, np.nan), np.full(count, np.nan)
    left = np.zeros_like(values)
    there = np.isfinite(values)
    for pattern in np.unique(there, axis=1).T:
        at = np.flatnonzero((there == pattern[:, None]).all(axis=0))
        own = columns[pattern]
        if np.linalg.matrix_rank(own) < own.shape[1]:
            continue
        found, *_ = np.linalg.lstsq(own, values[np.ix_(pattern, at)], rcond=None)
        delta[at] = found[0]
        error[at] = np.sqrt(np.linalg.inv(own.T @ own)[0, 0])
        left[np.ix_(pattern, at)] = values[np.ix_(pattern, at)] - own @ found
    return delta, error, left
