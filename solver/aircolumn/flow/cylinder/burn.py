"""Combustion as a conversion of fuel and air into burned gas along a Wiebe law.

    x = 1 - exp(-c ((th - th0)/D)^(m+1))      (Heywood 1988, section 9.2.2)

given by the angle of half burn (CA50), the 10 to 90 % duration and the form factor m. c is chosen
so that 99.9 % is burned at th0 + D; the table is then scaled to end at exactly 1.
"""

from math import log
from typing import Any

import numpy as np

COMPLETENESS = 0.999


def wiebe_timing(ca50: float, duration_10_90: float, form: float) -> tuple[float, float]:
    """Start of burn and total duration, degrees, from CA50 and the 10 to 90 % duration."""
    c = -log(1.0 - COMPLETENESS)

    def reach(x: Any) -> Any:  # (th - th0)/D at burned share x of the scaled law
        return (-log(1.0 - x * COMPLETENESS) / c) ** (1.0 / (form + 1.0))

    total = duration_10_90 / (reach(0.9) - reach(0.1))
    return ca50 - total * reach(0.5), total


def wiebe_share(angle: np.ndarray, start: float, total: float, form: float) -> np.ndarray:
    """Burned share 0 to 1 at ``angle`` (degrees, array)."""
    c = -log(1.0 - COMPLETENESS)
    z = np.clip((np.asarray(angle, dtype=float) - start) / total, 0.0, 1.0)
    return (1.0 - np.exp(-c * z ** (form + 1.0))) / COMPLETENESS
