"""Losses of bends on the dynamic head (Weisbach's formulas, as hydraulics handbooks give them).

For smooth bends of 90 degrees, with the centre line's radius R and the width b of the duct in the plane of
the bend:

    round          K = 0.131 + 1.847 (b / 2R)^3.5
    rectangular    K = 0.124 + 3.104 (b / 2R)^3.5

The first as in the handbook's table for b / 2R from 0.1 to 1 (0.294 at 0.5, 1.978 at 1), the second from
memory. Between sharp corners and a circle or an oval the share of the second falls with the corner radius
(own choice, no source). Newer fits give up to twice as much at R / b of 1.5; part of that is wall friction,
which is counted by itself here.

Up to 90 degrees in proportion to the angle. Beyond, most of what a bend loses is lost where it begins and
ends: K over that of 90 degrees stands in OVER, the mean of three published fits (Rennels & Hudson 2012;
Miller 1990; Ito 1960, as the library fluids has them) less the wall friction of the bend, for tight (R / b of
1) and wide ones (1.5 and more); beyond 180 degrees in proportion again, as a helix goes on.
"""

from typing import Any

import numpy as np

ROUND, RECTANGULAR = (0.131, 1.847), (0.124, 3.104)
POWER = 3.5
#: Angle, deg: K over that of 90 degrees, for R / b of 1 and of 1.5 and more.
OVER = {90.0: (1.0, 1.0), 120.0: (1.2, 1.08), 150.0: (1.36, 1.08), 180.0: (1.5, 1.04)}
TIGHT, WIDE = 1.0, 1.5


def bend_loss(angle: Any, radius: Any, width: Any, roundness: Any = 1.0) -> Any:
    """Loss coefficient of a smooth bend.

    Parameters
    ----------
    angle, radius, width : float or array
        deg; centre-line radius and width in the plane of the bend, m.
    roundness : float or array
        1 for a circle or an oval, 0 for a rectangle.

    Returns
    -------
    float or array

    Examples
    --------
    >>> round(bend_loss(90.0, 0.05, 0.05), 3)
    0.294
    """
    ratio = (0.5 * width / radius) ** POWER
    of_round, of_rectangle = (constant + factor * ratio for constant, factor in (ROUND, RECTANGULAR))
    right = roundness * of_round + (1.0 - roundness) * of_rectangle
    return right * over_right_angle(angle, radius / width)


def over_right_angle(angle: Any, relative_radius: Any) -> Any:
    """Loss of a bend over that of one of 90 degrees with the same relative radius R / b; angle in deg."""
    wide = np.clip((relative_radius - TIGHT) / (WIDE - TIGHT), 0.0, 1.0)
    tight_ones, wide_ones = zip(*OVER.values(), strict=True)
    within = np.clip(angle, 90.0, 180.0)
    of_tight, of_wide = (np.interp(within, list(OVER), v) for v in (tight_ones, wide_ones))
    beyond = np.maximum(angle / 180.0, 1.0) * (of_tight + wide * (of_wide - of_tight))
    return np.where(np.asarray(angle) <= 90.0, np.asarray(angle) / 90.0, beyond)[()]
