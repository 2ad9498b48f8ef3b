"""The trade-off between two aims: the designs that no other beats in both, and where it bends."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from aircolumn.questions.search.known import Design

FEWEST = 3  # designs, for a bend between two ends
BEYOND = 0.1  # of the front's ranges: from so far below its ends area counts
LEAST_RANGE = 1e-3  # of an aim, where all of the front have one value of it


def front_of(known: Iterable[Design]) -> list[Design]:
    """The designs that keep the limits and that no other beats in both aims, by the first aim."""
    fitting = [d for d in known if d.fits]
    front = [
        d for d in fitting if not any(np.all(o.aims >= d.aims) and np.any(o.aims > d.aims) for o in fitting)
    ]
    return sorted(front, key=lambda d: d.aims[0])


def bend_of(front: list[Design]) -> int | None:
    """Which design stands furthest beyond the straight line between the ends of the front, both aims taken in
    their ranges (Das 1999, Struct. Optim. 18, from memory): from there on a little more of one aim costs much
    of the other. None if no design stands beyond it."""
    if len(front) < FEWEST:
        return None
    aims = np.array([d.aims for d in front])
    span = np.ptp(aims, axis=0)
    if not np.all(span > 0.0):
        return None
    scaled = (aims - aims.min(axis=0)) / span
    beyond = scaled.sum(axis=1) - 1.0
    return int(np.argmax(beyond)) if beyond.max() > 0.0 else None


def told_apart(front: list[Design], accuracy: float) -> list[Design]:
    """The front without designs that are as good as the one before in both aims, within ``accuracy``
    (relative); its ends stay."""
    kept: list[Design] = []
    for design in front[:-1]:
        if not kept or np.any(np.abs(design.aims - kept[-1].aims) > accuracy * np.abs(design.aims)):
            kept.append(design)
    while len(kept) > 1 and np.all(
        np.abs(front[-1].aims - kept[-1].aims) <= accuracy * np.abs(front[-1].aims)
    ):
        kept.pop()
    return [*kept, *front[-1:]]


def more_covered(front: list[Design], aims: np.ndarray) -> np.ndarray:
    """By how much places with these aims (n, 2) would add to the area that the front covers, both aims in the
    front's ranges (hypervolume: Zitzler & Thiele 1999, IEEE Trans. Evol. Comput. 3); beyond its ends too."""
    known = np.array([d.aims for d in front])
    low, span = known.min(axis=0), np.ptp(known, axis=0)
    span = np.where(span > 0.0, span, np.maximum(np.abs(low), 1.0) * LEAST_RANGE)
    at, there = (known - low) / span, (aims - low) / span
    at = at[np.argsort(at[:, 0])]
    starts = np.concatenate([[-BEYOND], at[:, 0]])
    stops = np.concatenate([at[:, 0], [np.inf]])
    covered = np.concatenate([at[:, 1], [-BEYOND]])  # up to there between a start and a stop
    wide = np.minimum(there[:, :1], stops) - starts
    return np.sum(np.maximum(wide, 0.0) * np.maximum(there[:, 1:] - covered, 0.0), axis=1)
