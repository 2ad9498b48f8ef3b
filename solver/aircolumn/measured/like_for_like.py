"""Did only the manifold change? Two manifolds' pulls beside each other, channel by channel.

At every speed the difference d of the two manifolds' means has an interval d +- u,
u = t s sqrt(1/nA + 1/nB), with s the standard deviation between pulls of one manifold pooled over
both manifolds and all speeds, t Student's factor at nA + nB - 2 degrees of freedom (two-sample t
interval, e.g. Montgomery, Design and Analysis of Experiments, ch. 2). Against the band b:

    differs   |d| - u > b      a difference larger than the band is shown
    alike     |d| + u <= b     equality within the band is shown (two one-sided tests, Schuirmann
                               1987, J. Pharmacokinet. Biopharm. 15)
    unproven  between the two: more repeats are due

Without repeats u is not known, d is taken as read, and the verdict says so. Differences of torque are
judged for the whole range together (family_wise.py), and must also exceed the drift over the session.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as student

from aircolumn.measured.family_wise import least_shown
from aircolumn.measured.measured_curve import MeasuredCurve, mean_of_pulls

if TYPE_CHECKING:
    from aircolumn.engine.description.measured import Bands

CONFIDENCE = 0.95
ALIKE, UNPROVEN, DIFFERS, NOT_LOGGED = "alike", "unproven", "differs", "not logged"
#: channel: (what it is called, kind of quantity of its differences, whether the band is a share)
CHECKED = {
    "air_fuel_ratio": ("air-fuel ratio", "number", False),
    "spark": ("spark", "angle", False),
    "coolant": ("coolant", "temperature difference", False),
    "oil": ("oil", "temperature difference", False),
    "inlet_air": ("inlet air", "temperature difference", False),
    "barometer": ("barometer", "pressure", False),
    "sweep_rate": ("sweep rate", "share", True),
}


@dataclass(frozen=True)
class Check:
    """One channel: band, difference and half-width of its interval at each speed, and the states
    (one of ALIKE, UNPROVEN, DIFFERS; NOT_LOGGED where a manifold has no reading)."""

    band: float
    difference: np.ndarray
    half_width: np.ndarray
    states: np.ndarray


@dataclass(frozen=True)
class LikeForLike:
    """The verdict on two manifolds a and b.

    rpm: common speeds. comparable: where no channel is shown to differ. torque: difference a - b
    of corrected torque, N m; least: how large it must be at any speed to mean anything, all speeds being
    judged together (NaN without repeats);
    repeatability: relative standard deviation of torque between pulls, with its degrees of freedom;
    drift: relative change of torque per pull, 0 unless shown.
    """

    rpm: np.ndarray
    checks: dict[str, Check]
    comparable: np.ndarray
    torque: np.ndarray
    least: np.ndarray
    repeatability: float
    freedom: int
    drift: float

    def alarms(self) -> list[str]:
        """Channels shown to differ somewhere."""
        return [n for n, c in self.checks.items() if np.any(c.states == DIFFERS)]

    def meaningful(self) -> np.ndarray:
        """Speeds at which the torque difference is larger than it must be."""
        return self.comparable & (np.abs(self.torque) > self.least)


def like_for_like(a: MeasuredCurve, b: MeasuredCurve, bands: Bands) -> LikeForLike:
    """Compare two manifolds at the speeds both cover. bands: description.measured.Bands."""
    rpm, at_a, at_b = np.intersect1d(a.rpm, b.rpm, return_indices=True)
    checks = {}
    for channel, (_, _, relative) in CHECKED.items():
        one, other = _logged(a, channel, at_a), _logged(b, channel, at_b)
        checks[channel] = _check(one, other, getattr(bands, channel), relative, rpm.size)
    differs = np.any([c.states == DIFFERS for c in checks.values()], axis=0)
    torque_a, torque_b = a.corrected[:, at_a], b.corrected[:, at_b]
    spread, freedom = spread_between_pulls([torque_a, torque_b], relative=True)
    drift = shown_drift([torque_a, torque_b])
    mean_a, mean_b = mean_of_pulls(torque_a), mean_of_pulls(torque_b)
    # Between the middles of the two sets of pulls, run one after the other.
    drifted = abs(drift) * 0.5 * (a.pulls + b.pulls)
    level = 0.5 * (mean_a + mean_b)
    share = least_shown(torque_a / level, torque_b / level, CONFIDENCE) + drifted
    return LikeForLike(rpm, checks, ~differs, mean_a - mean_b, share * level, spread, freedom, drift)


def spread_between_pulls(sets: Sequence[np.ndarray], relative: bool = False) -> tuple[float, int]:
    """Pooled standard deviation between pulls (arrays (pulls, s)) and its degrees of freedom."""
    squares, freedom = [], 0
    for values in sets:
        if len(values) < 2:
            continue
        scaled = values / mean_of_pulls(values) if relative else values
        variance = mean_of_pulls((scaled - mean_of_pulls(scaled)) ** 2) * len(values)
        squares += list(variance[np.isfinite(variance)])
        freedom += len(values) - 1
    if not freedom or not squares:
        return float("nan"), 0
    speeds = len(squares) / sum(len(v) > 1 for v in sets)
    return float(np.sqrt(np.sum(squares) / (speeds * freedom))), freedom


def half_width(spread: float, freedom: int, count_a: int, count_b: float) -> float:
    """u of the difference of two means (NaN without repeats)."""
    if not freedom:
        return float("nan")
    factor = student.ppf(0.5 + 0.5 * CONFIDENCE, freedom)
    return float(factor * spread * np.sqrt(1.0 / count_a + 1.0 / count_b))


def shown_drift(sets: Sequence[np.ndarray]) -> float:
    """Relative change of torque from pull to pull, the same for all sets (arrays (pulls, s)): the
    slope of the pulls' mean levels over their order, 0 where its t interval holds 0."""
    order, level = [], []
    for torque in sets:
        levels = mean_of_pulls((torque / mean_of_pulls(torque)).T)
        k = np.arange(len(levels))
        order.append(k - k.mean())
        level.append(levels - levels.mean())
    x, y = np.concatenate(order), np.concatenate(level)
    freedom = len(x) - len(sets) - 1
    if freedom < 1 or not np.all(np.isfinite(y)):
        return 0.0
    slope = float(x @ y / (x @ x))
    error = np.sqrt(np.sum((y - slope * x) ** 2) / freedom / (x @ x))
    return slope if abs(slope) > student.ppf(0.5 + 0.5 * CONFIDENCE, freedom) * error else 0.0


def _logged(curve: MeasuredCurve, channel: str, at: np.ndarray) -> np.ndarray | None:
    values: np.ndarray | None = curve.air.pressure if channel == "barometer" else curve.readings.get(channel)
    if channel == "barometer" and "barometer" not in curve.readings:
        values = None
    return None if values is None else values[:, at]


def _check(a: np.ndarray | None, b: np.ndarray | None, band: float, relative: bool, count: int) -> Check:
    nothing = np.full(count, np.nan)
    if a is None or b is None:
        return Check(band, nothing, nothing, np.full(count, NOT_LOGGED))
    mean_a, mean_b = mean_of_pulls(a), mean_of_pulls(b)
    scale = 0.5 * (mean_a + mean_b) if relative else 1.0
    difference = (mean_a - mean_b) / scale
    spread, freedom = spread_between_pulls([a / scale, b / scale])
    u = half_width(spread, freedom, len(a), len(b))
    doubt = 0.0 if np.isnan(u) else u
    states = np.where(
        np.isnan(difference),
        NOT_LOGGED,
        np.where(
            np.abs(difference) - doubt > band,
            DIFFERS,
            np.where(np.abs(difference) + doubt <= band, ALIKE, UNPROVEN),
        ),
    )
    return Check(band, difference, np.full(count, u), states)
