"""The numerical uncertainty of a result from three meshes: the grid convergence index.

With f on meshes of cell size 2 h, h and h/2 (step in proportion, ratio r = 2), the observed order is

    p = ln(|f_2h - f_h| / |f_h - f_h/2|) / ln r

and the uncertainty of f_h, an interval that should hold 95 % of what finer meshes would give,

    U = Fs |f_h - f_h/2| r^p / (r^p - 1)

(Roache, J. Fluids Eng. 116, 1994; ASME V&V 20-2009, section 2.4). Fs = 1.25 where the observed order
is between LEAST_ORDER and the formal order; elsewhere p is brought between these two and Fs is 3,
as V&V 20 asks where the order is not what it should be (f that turns back and forth included). The
formal order is that of limited and mixing flow, FORMAL; the third order of smooth waves is not
counted on.
"""

import numpy as np

LEVELS = (0.5, 1.0, 2.0)  # refinements: cells of twice, once and half the size
RATIO = 2.0
FORMAL, LEAST_ORDER = 2.0, 0.5
SAFE, UNSURE = 1.25, 3.0


def grid_convergence(coarse, middle, fine):
    """Relative uncertainty of ``middle`` (arrays or numbers, the same figure on three meshes)."""
    coarse, middle, fine = (np.asarray(f, dtype=float) for f in (coarse, middle, fine))
    far, near = coarse - middle, middle - fine
    with np.errstate(divide="ignore", invalid="ignore"):
        order = np.log(np.abs(far / near)) / np.log(RATIO)
    steady = (far * near > 0.0) & (order >= LEAST_ORDER) & (order <= FORMAL)
    order = np.clip(np.nan_to_num(order, nan=LEAST_ORDER), LEAST_ORDER, FORMAL)
    # Where f turns back and forth neither difference is the error: the larger one is taken.
    change = np.where(steady, np.abs(near), np.maximum(np.abs(near), np.abs(far) / RATIO**order))
    growth = RATIO**order
    factor = np.where(steady, SAFE, UNSURE)
    return factor * change * growth / (growth - 1.0) / np.abs(middle)
