"""From the best that is known to the best nearby: a local search over the keys that run through a span
(scipy.optimize.minimize, COBYQA of Ragonneau 2022), and steps along every key to better neighbours, halved
until none is (compass search: Kolda, Lewis & Torczon 2003, SIAM Rev. 45)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.optimize import NonlinearConstraint, minimize

from aircolumn.engine.description.base import required
from aircolumn.questions.search.proposals import NEAR

if TYPE_CHECKING:
    from aircolumn.questions.search.known import Design, KnownDesigns

CLOSE = 0.002  # of the span: where trying ends
FINEST = 0.25  # least step along a key, of a plain one

#: {key: (how it is called, the design or None where the span ends) of every neighbour}
Neighbours = dict[str, list[tuple[str, "Design | None"]]]


def polish(known: KnownDesigns, most: int) -> None:
    """A local search from the best known, over ``most`` curves."""
    best = known.best
    free = [] if best is None else known.sizes.free(best.share)
    if best is None or not best.fits or not free or most < 1:
        return
    scale = abs(best.aims[0]) or 1.0

    def at(x: Any) -> Design:
        share = best.share.copy()
        share[free] = x
        return known.look([share])[0]

    def loss(x: Any) -> float:
        value = at(x).aims[0]
        return -value / scale if np.isfinite(value) else 1.0

    def margins(x: Any) -> np.ndarray:
        design = at(x)
        return np.nan_to_num(design.margins / design.scales, nan=-1.0)

    limits = [NonlinearConstraint(margins, 0.0, np.inf)] if known.limits else []
    minimize(
        loss,
        best.share[free],
        method="COBYQA",
        bounds=[(0.0, 1.0)] * len(free),
        constraints=limits,
        options={"initial_tr_radius": NEAR, "final_tr_radius": CLOSE, "maxfev": most},
    )


def to_better_neighbours(known: KnownDesigns, most: int) -> None:
    """Step to the best neighbour until none is better, over ``most`` curves and those that show that no plain
    step is better."""
    scale, last = 1.0, known.curves + most
    while scale >= FINEST and (scale == 1.0 or known.curves < last):
        best = known.best
        neighbours(known, scale)
        if known.best is not best:
            scale = 1.0
            continue
        scale *= 0.5


def neighbours(known: KnownDesigns, scale: float = 1.0, of: Design | None = None) -> Neighbours:
    """Those of a design (left out: of the best known), computed together."""
    share = required(of or known.best).share
    beside = known.sizes.beside(share, scale)
    there = [b.share for row in beside.values() for b in row if b.share is not None]
    found = iter(known.look(there)) if there else iter(())
    return {
        name: [(b.name, None if b.share is None else next(found)) for b in row]
        for name, row in beside.items()
    }
