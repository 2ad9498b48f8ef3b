"""The trade-off between two aims: the designs that no other beats in both, and where it bends."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from aircolumn.questions.search.known import Design

FEWEST = 3  # designs, for a bend between two ends


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


def gap_fillers(front: list[Design], most: int) -> list[tuple[Design, Design]]:
    """The neighbours along the front that stand furthest apart in the aims, at most so many pairs."""
    if len(front) < 2:
        return []
    aims = np.array([d.aims for d in front])
    span = np.ptp(aims, axis=0)
    apart = np.linalg.norm(np.diff(aims, axis=0) / np.where(span > 0.0, span, 1.0), axis=1)
    return [(front[k], front[k + 1]) for k in np.argsort(-apart, kind="stable")[:most]]
