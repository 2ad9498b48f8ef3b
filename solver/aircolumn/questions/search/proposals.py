"""Where to look next: a cubic radial-basis interpolant of what is known (scipy.interpolate.RBFInterpolator;
Gutmann 2001, J. Global Optim. 19) proposes, by turns where it is highest and where it is both high and far
from all known (the metric response surface of Regis & Shoemaker 2007, INFORMS J. Comput. 19). Limits enter as
constraints on it. With two aims each turn weighs them anew (ParEGO, Knowles 2006, IEEE Trans. Evol. Comput.
10)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import RBFInterpolator

if TYPE_CHECKING:
    from aircolumn.questions.search.known import Design, KnownDesigns

NEAR = 0.05  # of the span: how near the best ones are tried
PLACES = 2048  # looked at on the interpolant each turn
FAR = (1.0, 0.5, 0.95, 0.7)  # weight of height against distance, by turns
AUGMENTED = 0.05  # share of the sum in the weighted aim (augmented Chebyshev; Miettinen 1999, section 3.4)


def proposed(known: KnownDesigns, turn: int, rng: np.random.Generator) -> np.ndarray:
    """Shares of the next design."""
    sizes, sound = known.sizes, [d for d in known.every.values() if d.computed]
    places = sizes.snapped(rng.random((PLACES, len(sizes.axes))))
    everything = sizes.coordinates(np.array([d.share for d in known.every.values()]))
    at = sizes.coordinates(np.array([d.share for d in sound])) if sound else everything
    if len(sound) < at.shape[1] + 2:
        return places[int(np.argmax(_away(sizes.coordinates(places), everything).min(axis=1)))]
    best = max(sound, key=lambda d: (d.fits, -d.broken, _height(d.aims[None], sound, None)[0]))
    places = np.vstack([places, sizes.around(best.share, NEAR, PLACES // 4, rng)])
    there = sizes.coordinates(places)
    weights = rng.dirichlet(np.ones(len(known.aims)))
    height = _height(interpolated(at, [d.aims for d in sound], there), sound, weights)
    height = _lowered(height, _guessed_break(known, there))
    away = _away(there, everything)
    distance = np.min(away, axis=1)
    weight = FAR[turn % len(FAR)]
    score = weight * _unit(height) + (1.0 - weight) * _unit(distance)
    score[distance < 1e-3] = -np.inf
    refused = np.array([key in known.refused for key in known.every])
    nearest = refused[np.argmin(away, axis=1)]
    score[nearest] = -np.inf  # as near to what cannot be made as to anything
    if not np.isfinite(score).any():
        score = np.where(distance < 1e-3, -np.inf, distance)
    return places[int(np.argmax(score))]


def _away(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.linalg.norm(one[:, None] - other[None], axis=2)


def _guessed_break(known: KnownDesigns, there: np.ndarray) -> np.ndarray:
    """By how much the interpolant has limits broken, in ranges of what is known."""
    broken = np.zeros(len(there))
    for k in range(len(known.limits)):
        able = [d for d in known.every.values() if np.isfinite(d.margins[k])]
        at = known.sizes.coordinates(np.array([d.share for d in able]))
        if len(able) < at.shape[1] + 2:
            continue
        margins = np.array([d.margins[k] for d in able])
        kept = interpolated(at, margins, there)
        broken -= np.minimum(kept / (np.ptp(margins) + 1e-9), 0.0)
    return broken


def _lowered(height: np.ndarray, broken: np.ndarray) -> np.ndarray:
    """What breaks a limit is worth less than anything that keeps it."""
    return np.where(broken > 0.0, height.min() - np.ptp(height) * broken, height)


def _height(values: np.ndarray, sound: Sequence[Design], weights: np.ndarray | None) -> np.ndarray:
    """One figure from the aims: the first alone, or both weighed over their known ranges."""
    if values.shape[1] == 1:
        return values[:, 0]
    known = np.array([d.aims for d in sound])
    low, span = known.min(axis=0), np.ptp(known, axis=0)
    scaled = (values - low) / np.where(span > 0.0, span, 1.0)
    if weights is None:
        weights = np.full(values.shape[1], 1.0 / values.shape[1])
    return np.min(scaled * weights, axis=1) + AUGMENTED * scaled @ weights


def interpolated(at: np.ndarray, values: Any, places: np.ndarray) -> np.ndarray:
    """``values`` at ``at`` read off at ``places``. Where they stand in one plane, as a list of two sizes has
    them, straight lines between them do."""
    try:
        return RBFInterpolator(at, np.array(values), kernel="cubic", degree=1)(places)
    except np.linalg.LinAlgError:
        return RBFInterpolator(at, np.array(values), kernel="linear", degree=0)(places)


def _unit(values: np.ndarray) -> np.ndarray:
    """Values brought into 0 to 1."""
    low, span = np.min(values), np.ptp(values)
    return (values - low) / span if span > 0.0 else np.zeros_like(values)
