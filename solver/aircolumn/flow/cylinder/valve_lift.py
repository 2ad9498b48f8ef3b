"""Valve lift against crank angle.

Cam card: with s from -1 to 1 over the duration from seat to seat,

    L = Lmax (1 - |s|^nose)^flank

nose 2 and flank 2.5 unless said: lift, velocity and acceleration are then zero at both seats and continuous
between them, and the mean lift is 0.49 of the maximum. A larger nose is a flatter top, a smaller flank are
steeper sides; both are own choices of a family that spans common lobes (mean lift 0.40 to 0.62), no source.
The card's events hold at a stated lift; the duration seat to seat follows. Further durations of the card tell
flank, and two of them nose too (lobe_of). Lash is taken off cam lift (events are those of the card).

Measured table: monotone cubic interpolation (PCHIP, Fritsch & Carlson 1980).
"""

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

FLANK, NOSE = 2.5, 2.0
FLANKS, NOSES = (1.0, 8.0), (1.4, 4.0)  # limits of what cards may tell
MOST_OFF = 3.0  # deg, by which a lift curve may miss a duration of its card


class Lobe(NamedTuple):
    """Exponents of a lift curve, and by how many degrees it misses the card's durations at most."""

    flank: float = FLANK
    nose: float = NOSE
    off: float = 0.0


def seat_margin(events_at: float, maximum: float, flank: float = FLANK, nose: float = NOSE) -> float:
    """Share of the duration from seat to seat before the profile reaches ``events_at`` (same unit as
    ``maximum``)."""
    return 0.5 * (1.0 - _reach(events_at / maximum, flank, nose))


def _reach(share: Any, flank: float, nose: float) -> Any:
    """s at which the lift is a share of the highest."""
    return (1.0 - share ** (1.0 / flank)) ** (1.0 / nose)


@lru_cache(maxsize=256)  # asked for many times for each point
def lobe_of(card: tuple[tuple[float, float], ...], nose: float = NOSE) -> Lobe:
    """The lift curve of a cam card's durations.

    Parameters
    ----------
    card : tuple of (lift over highest lift, duration in degrees)
        Two or more; the first, that of the events, is met exactly. Two tell flank, with ``nose`` as given;
        three or more tell both, by least squares.

    Returns
    -------
    Lobe

    Raises
    ------
    ValueError
        If no such lift curve has these durations within MOST_OFF degrees.
    """
    from scipy.optimize import least_squares

    shares, durations = (np.array(column) for column in zip(*card, strict=True))

    def off(x: Any) -> Any:
        reach = _reach(shares, x[0], x[1] if len(x) > 1 else nose)
        return (durations[0] / reach[0] * reach - durations)[1:]

    several = len(card) > 2
    low, high = (list(ends) for ends in zip(*((FLANKS, NOSES) if several else (FLANKS,)), strict=True))
    start = [FLANK, NOSE] if several else [FLANK]
    found = least_squares(off, start, bounds=(low, high), xtol=1e-12, ftol=1e-12)
    worst = float(np.max(np.abs(found.fun)))
    flank, nose = (float(v) for v in found.x) if several else (float(found.x[0]), nose)
    if worst > MOST_OFF:
        at = 1 + int(np.argmax(np.abs(found.fun)))
        raise ValueError(
            f"no lift curve has {durations[0]:g} deg at {100 * shares[0]:.3g} % of the highest lift and"
            f" {durations[at]:g} deg at {100 * shares[at]:.3g} %: the nearest has"
            f" {durations[at] + found.fun[at - 1]:.0f} deg there"
        )
    return Lobe(flank, nose, worst)


def card_lift(
    angle: np.ndarray,
    opens: float,
    closes: float,
    maximum: float,
    events_at: float,
    lash: float,
    lobe: Lobe = Lobe(),  # noqa: B008 - a tuple
) -> np.ndarray:
    """Valve lift, m, at ``angle`` (degrees, array); opens < closes in degrees, lengths in m."""
    seat_duration = (closes - opens) / _reach(events_at / maximum, lobe.flank, lobe.nose)
    s = (np.asarray(angle, dtype=float) - 0.5 * (opens + closes)) / (0.5 * seat_duration)
    inside = np.maximum(1.0 - np.abs(s) ** lobe.nose, 0.0)
    return np.maximum(maximum * inside**lobe.flank - lash, 0.0)


def table_lift(angle: Any, opens: float, table_angle: Any, table_lift: Any, lash: float) -> Any:
    """Valve lift, m, from a measured table whose angle 0 stands at ``opens`` degrees."""
    from scipy.interpolate import PchipInterpolator  # slow to load and seldom needed

    curve = PchipInterpolator(table_angle, table_lift, extrapolate=False)
    lift = np.nan_to_num(curve(np.asarray(angle, dtype=float) - opens))
    return np.maximum(lift - lash, 0.0)
