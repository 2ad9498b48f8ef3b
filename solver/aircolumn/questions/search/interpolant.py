"""What is known of designs, between them: a cubic radial-basis interpolant
(scipy.interpolate.RBFInterpolator; Gutmann 2001, J. Global Optim. 19) with a length of its own along every
key.

A hump moves fast with the length of a runner and slowly with its bore, so distances along the one count for
more than along the other. How much is found for every figure by cross-validation: keys are stretched and
shrunk by twos while designs that are left out are foretold better (Hastie, Tibshirani & Friedman, The
Elements of Statistical Learning, section 7.10, from memory)."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.interpolate import RBFInterpolator

FOLDS = 5  # parts, each left out in its turn
PASSES = 4  # over all keys
LEAST, MOST = 1.0 / 64.0, 8.0  # stretches


class Interpolant:
    """One figure over designs. at: (n, m) places; values: (n,); missed: root-mean-square of what is missed at
    designs left out."""

    def __init__(self, at: np.ndarray, values: Any) -> None:
        self.at, self.values = at, np.asarray(values, dtype=float)
        self.stretch, self.missed = self._fitted()
        self._surface = _surface(at * self.stretch, self.values)

    def __call__(self, places: np.ndarray) -> np.ndarray:
        """The figure at places (k, m): (k,)."""
        return self._surface(places * self.stretch)

    def _fitted(self) -> tuple[np.ndarray, float]:
        """The stretch of every coordinate that foretells designs left out best, and what is missed then."""
        stretch = np.ones(self.at.shape[1])
        if len(self.at) < 2 * self.at.shape[1] + FOLDS:
            return stretch, 0.0
        best = self._error(stretch)
        for _ in range(PASSES):
            before = best
            for k in range(len(stretch)):
                for factor in (0.5, 2.0):
                    tried = stretch.copy()
                    tried[k] = np.clip(tried[k] * factor, LEAST, MOST)
                    if (error := self._error(tried)) < best:
                        best, stretch = error, tried
            if best == before:
                break
        return stretch, best

    def _error(self, stretch: np.ndarray) -> float:
        fold, at = np.arange(len(self.at)) % FOLDS, self.at * stretch
        off = [
            _surface(at[fold != k], self.values[fold != k])(at[fold == k]) - self.values[fold == k]
            for k in range(FOLDS)
        ]
        return float(np.sqrt(np.mean(np.concatenate(off) ** 2)))


def _surface(at: np.ndarray, values: np.ndarray) -> RBFInterpolator:
    """Where designs stand in one plane, as a list of two sizes may have them, straight lines between them
    do."""
    try:
        return RBFInterpolator(at, values, kernel="cubic", degree=1)
    except (np.linalg.LinAlgError, ValueError):
        return RBFInterpolator(at, values, kernel="linear", degree=0)
