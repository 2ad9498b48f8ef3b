"""Valve lift against crank angle.

Cam card: L = Lmax (4 x (1 - x))^2.5 with x from 0 to 1 over the seat-to-seat duration: lift,
velocity and acceleration are zero at both seats and continuous between them; the mean lift is
0.49 of the maximum. The card's events hold at a stated lift; the seat duration follows from
(4 x (1 - x))^2.5 = events_at / Lmax. Lash is taken off cam lift (events are those of the card).
Measured table: monotone cubic interpolation (PCHIP, Fritsch & Carlson 1980).
"""

from typing import Any

import numpy as np

EXPONENT = 2.5


def seat_margin(events_at: float, maximum: float) -> float:
    """x at which the profile reaches ``events_at`` (same unit as ``maximum``)."""
    return 0.5 * (1.0 - np.sqrt(1.0 - (events_at / maximum) ** (1.0 / EXPONENT)))


def card_lift(
    angle: np.ndarray, opens: float, closes: float, maximum: float, events_at: float, lash: float
) -> np.ndarray:
    """Valve lift, m, at ``angle`` (degrees, array); opens < closes in degrees, lengths in m."""
    margin = seat_margin(events_at, maximum)
    seat_duration = (closes - opens) / (1.0 - 2.0 * margin)
    start = 0.5 * (opens + closes) - 0.5 * seat_duration
    x = np.clip((np.asarray(angle, dtype=float) - start) / seat_duration, 0.0, 1.0)
    return np.maximum(maximum * (4.0 * x * (1.0 - x)) ** EXPONENT - lash, 0.0)


def table_lift(angle: Any, opens: float, table_angle: Any, table_lift: Any, lash: float) -> Any:
    """Valve lift, m, from a measured table whose angle 0 stands at ``opens`` degrees."""
    from scipy.interpolate import PchipInterpolator  # slow to load and seldom needed

    curve = PchipInterpolator(table_angle, table_lift, extrapolate=False)
    lift = np.nan_to_num(curve(np.asarray(angle, dtype=float) - opens))
    return np.maximum(lift - lash, 0.0)
