"""The numerical uncertainty of a result from three meshes: the grid convergence index.

With f on meshes of cell size 2 h, h and h/2 (step in proportion, ratio r = 2), the observed order
is

    p = ln(|f_2h - f_h| / |f_h - f_h/2|) / ln r

and the uncertainty of f_h, an interval that should hold 95 % of what finer meshes would give,

    U = Fs |f_h - f_h/2| r^p / (r^p - 1)

(Roache, J. Fluids Eng. 116, 1994; ASME V&V 20-2009, section 2.4). Fs = 1.25 where the observed
order is between LEAST_ORDER and the formal order. Elsewhere Fs is 3, as V&V 20 asks where the order
is not what it should be: with the formal order if more was observed, else (also where f turns back
and forth) with first order and the larger of the two changes, the coarser one brought to h. The
formal order is that of limited and mixing flow; the third order of smooth waves is not counted on.

To this is added, as the root of the sum of squares, how well cycles repeat (the iterative error).
"""

from typing import Any

import numpy as np

LEVELS = (0.5, 1.0, 2.0)  # refinements: cells of twice, once and half the size
RATIO = 2.0
FORMAL, LEAST_ORDER = 2.0, 0.5
SAFE, UNSURE = 1.25, 3.0


def grid_convergence(coarse: Any, middle: Any, fine: Any, repeat: float = 0.0) -> Any:
    """Relative uncertainty of ``middle``: arrays or numbers, the same figure on three meshes.

    repeat: relative change from cycle to cycle that is taken as converged.
    """
    coarse, middle, fine = (np.asarray(f, dtype=float) for f in (coarse, middle, fine))
    far, near = coarse - middle, middle - fine
    with np.errstate(divide="ignore", invalid="ignore"):
        order = np.nan_to_num(np.log(np.abs(far / near)) / np.log(RATIO))
    order = np.where(far * near > 0.0, order, 0.0)
    steady, quick = (order >= LEAST_ORDER) & (order <= FORMAL), order > FORMAL
    order = np.where(steady, order, np.where(quick, FORMAL, 1.0))
    larger = np.maximum(np.abs(near), np.abs(far) / RATIO)
    change = np.where(steady | quick, np.abs(near), larger)
    index = np.where(steady, SAFE, UNSURE) * change / (1.0 - RATIO**-order) / np.abs(middle)
    return np.hypot(index, repeat)
