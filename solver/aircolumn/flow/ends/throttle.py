"""Flow area of a butterfly throttle.

The bore less what the turned plate and its shaft hide, seen along the flow: an ellipse with
semi-axes R and R cos psi / cos psi0 and a strip of the shaft's width (Heywood 1988, appendix C,
gives the same formula; derived again here). psi: plate angle, psi0: its angle when shut,
a = shaft diameter / bore, q = cos psi / cos psi0:

    A / (pi D^2/4) = 1 - q + (2/pi) [a sqrt(1 - a^2/q^2) + q asin(a/q) - a sqrt(1 - a^2) - asin a]

and q = a (plate behind the shaft) when fully open.
"""

from math import asin, cos, pi, radians, sqrt


def butterfly_area(bore: float, shaft: float, angle: float, closed_angle: float = 0.0) -> float:
    """Open area, m2; bore and shaft in m, plate angles in degrees (0 shut across, 90 fully open).

    Raises ValueError if the shaft is as wide as the bore.
    """
    a = shaft / bore
    if a >= 1.0:
        raise ValueError("the throttle shaft is as wide as its bore")
    if angle <= closed_angle:
        return 0.0
    q = max(cos(radians(min(angle, 90.0))) / cos(radians(closed_angle)), a, 1e-12)
    edges = a * sqrt(max(1.0 - (a / q) ** 2, 0.0)) + q * asin(min(a / q, 1.0))
    shaft_part = a * sqrt(1.0 - a * a) + asin(a)
    return 0.25 * pi * bore**2 * (1.0 - q + 2.0 / pi * (edges - shaft_part))
