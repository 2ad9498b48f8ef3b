"""Losses of bends on the dynamic head (Weisbach's formulas, as hydraulics handbooks give them).

For smooth bends of 90 degrees, with the centre line's radius R and the width b of the duct in the plane of
the bend:

    round          K = 0.131 + 1.847 (b / 2R)^3.5
    rectangular    K = 0.124 + 3.104 (b / 2R)^3.5

and in proportion to the angle. The first as in the handbook's table for b / 2R from 0.1 to 1 (0.294 at 0.5,
1.978 at 1), the second from memory. Between sharp corners and a circle or an oval the share of the second
falls with the corner radius (own choice, no source). Newer fits give up to twice as much at R / b of 1.5;
part of that is wall friction, which is counted by itself here.
"""

from typing import Any

ROUND, RECTANGULAR = (0.131, 1.847), (0.124, 3.104)
POWER = 3.5


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
    return (roundness * of_round + (1.0 - roundness) * of_rectangle) * angle / 90.0
