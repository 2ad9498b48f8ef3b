"""Where to look next. An interpolant of what is known (interpolant.py) proposes, by turns where it is highest
and where it is both high and far from all known (the metric response surface of Regis & Shoemaker 2007,
INFORMS J. Comput. 19). Limits enter as constraints on it. With two aims a place is as high as the area that
it adds to what the front covers (Ponweiser and others 2008, PPSN X, LNCS 5199, from memory)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.questions.search.front import front_of, more_covered
from aircolumn.questions.search.interpolant import Interpolant

if TYPE_CHECKING:
    from aircolumn.questions.search.known import Design, KnownDesigns

NEAR = 0.05  # of the span: how near the best ones are tried
PLACES = 2048  # looked at on the interpolant each turn
ENDS = 4  # turns, one of which looks for an end of the front
FAR = (1.0, 0.5, 0.95, 0.7)  # weight of height against distance, by turns


def proposed(known: KnownDesigns, turn: int, rng: np.random.Generator) -> np.ndarray:
    """Shares of the next design."""
    sizes, sound = known.sizes, [d for d in known.every.values() if d.computed]
    places = sizes.snapped(rng.random((PLACES, len(sizes.axes))))
    everything = sizes.coordinates(np.array([d.share for d in known.every.values()]))
    at = sizes.coordinates(np.array([d.share for d in sound])) if sound else everything
    if len(sound) < (at.shape[1] + 2 if known.cheap is None else 1):
        return places[int(np.argmax(_away(sizes.coordinates(places), everything).min(axis=1)))]
    front = front_of(sound) or [min(sound, key=lambda d: d.broken)]
    near = [sizes.around(d.share, NEAR, PLACES // 4 // len(front) + 1, rng) for d in front]
    places = np.vstack([places, *near])
    there = sizes.coordinates(places)
    guess = [required(_foretold(known, "aims", k, there)) for k in range(len(known.aims))]
    height = _heights(np.transpose(guess), sound, turn)
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


def _foretold(known: KnownDesigns, name: str, k: int, there: np.ndarray) -> np.ndarray | None:
    """An aim or a margin at places; None where too little is known. Where the file's own engine is known of
    many more designs, what is looked for is its figure, and by how much that of the other engines differs."""
    own, cheap = _figure(known, name, k), known.cheap
    if cheap is None:
        return _between(known, own, there)
    base = _figure(cheap, name, k)
    guess = _between(known, base, there)
    apart = {key: value - base[key] for key, value in own.items() if key in base}
    if guess is None or not apart:
        return _between(known, own, there)
    more = _between(known, apart, there)
    return guess + (np.mean(list(apart.values())) if more is None else more)


def _figure(known: KnownDesigns, name: str, k: int) -> dict[tuple, float]:
    """An aim or a margin of every design that has it."""
    every = {key: float(getattr(d, name)[k]) for key, d in known.every.items()}
    return {key: value for key, value in every.items() if np.isfinite(value)}


def _between(known: KnownDesigns, values: dict[tuple, float], there: np.ndarray) -> np.ndarray | None:
    """Figures of designs read off at places; None where they are too few."""
    at = known.sizes.coordinates(np.array(list(values))) if values else there[:0]
    if len(values) < there.shape[1] + 2:
        return None
    return Interpolant(at, list(values.values()))(there)


def _guessed_break(known: KnownDesigns, there: np.ndarray) -> np.ndarray:
    """By how much the interpolant has limits broken, in ranges of what is known."""
    broken = np.zeros(len(there))
    for k in range(len(known.limits)):
        kept = _foretold(known, "margins", k, there)
        if kept is not None:
            broken -= np.minimum(kept / (np.ptp(list(_figure(known, "margins", k).values())) + 1e-9), 0.0)
    return broken


def _lowered(height: np.ndarray, broken: np.ndarray) -> np.ndarray:
    """What breaks a limit is worth less than anything that keeps it."""
    return np.where(broken > 0.0, height.min() - np.ptp(height) * broken, height)


def _heights(values: np.ndarray, sound: Sequence[Design], turn: int) -> np.ndarray:
    """How good places with these aims (n, aims) are: the aim itself; of two what they add to the front, and
    now and then one of them, for the front's ends."""
    if values.shape[1] == 1:
        return values[:, 0]
    if turn % ENDS == 0:
        return values[:, turn // ENDS % 2]
    return more_covered(front_of(sound) or list(sound), values)


def _unit(values: np.ndarray) -> np.ndarray:
    """Values brought into 0 to 1."""
    low, span = np.min(values), np.ptp(values)
    return (values - low) / span if span > 0.0 else np.zeros_like(values)
