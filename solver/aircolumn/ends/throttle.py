"""Flow area of a butterfly throttle.

Heywood 1988, eq. C.10: the bore's projection past a plate turned by psi from the flow's normal
position, less the shaft. psi0 is the closed angle; a = shaft diameter / bore.
"""

from math import asin, cos, pi, radians, sqrt


def butterfly_area(bore: float, shaft: float, angle: float, closed_angle: float = 0.0) -> float:
    """Open area, m2; bore and shaft in m, plate angles in degrees (0 shut across, 90 fully open).

    Raises ValueError if the shaft is as wide as the bore.
    """
    a = shaft / bore
    if a >= 1.0:
        raise ValueError("the throttle shaft is as wide as its bore")
    wide_open = 0.25 * pi * bore**2 * (1.0 - 2.0 / pi * (a * sqrt(1.0 - a * a) + asin(a)))
    psi, psi0 = radians(angle), radians(closed_angle)
    if angle >= 90.0 or cos(psi) <= a * cos(psi0):
        return wide_open
    c, c0 = cos(psi), cos(psi0)
    if angle <= closed_angle:
        return 0.0
    ratio = c / c0
    term = (1.0 - ratio) + 2.0 / pi * (
        a / c * sqrt(c * c - a * a * c0 * c0)
        - ratio * asin(a * c0 / c)
        - a * sqrt(1.0 - a * a)
        + asin(a)
    )
    return min(0.25 * pi * bore**2 * term, wide_open)
