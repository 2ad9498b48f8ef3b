"""Did only the manifold change? Two manifolds' pulls beside each other, channel by channel.

At every speed the difference d of the two manifolds' means has an interval d +- u,
u = t s sqrt(1/nA + 1/nB), with s the standard deviation between pulls of one manifold pooled over
both manifolds and all speeds, t Student's factor at nA + nB - 2 degrees of freedom (two-sample t
interval, e.g. Montgomery, Design and Analysis of Experiments, ch. 2). Against the band b:

    differs   |d| - u > b      a difference larger than the band is shown
    alike     |d| + u <= b     equality within the band is shown (two one-sided tests, Schuirmann
                               1987, J. Pharmacokinet. Biopharm. 15)
    unproven  between the two: more repeats are due

Without repeats u is not known, d is taken as read, and the verdict says so. Differences of torque are judged
for the whole range together (family_wise.py). Where the first manifold comes back (A B A), they are freed of
the drift of the session (drift.py), and refused where that drift is known less well than the difference is
large; otherwise they must exceed the drift that the repeats show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as student

from aircolumn.measured.drift import Drift, comes_back, design, drift_of
from aircolumn.measured.drift import freed_difference as least_squares
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
    drift: relative change of torque per pull, 0 unless shown. returned: the drift by the return to the first
    manifold, which ``torque`` is freed of (None: none came back); masked: where that drift is known less well
    than the difference is large.
    """

    rpm: np.ndarray
    checks: dict[str, Check]
    comparable: np.ndarray
    torque: np.ndarray
    least: np.ndarray
    repeatability: float
    freedom: int
    drift: float
    masked: np.ndarray
    returned: Drift | None = None

    def alarms(self) -> list[str]:
        """Channels shown to differ somewhere."""
        return [n for n, c in self.checks.items() if np.any(c.states == DIFFERS)]

    def meaningful(self) -> np.ndarray:
        """Speeds at which the torque difference is larger than it must be."""
        return self.comparable & ~self.masked & (np.abs(self.torque) > self.least)


def like_for_like(a: MeasuredCurve, b: MeasuredCurve, bands: Bands) -> LikeForLike:
    """Compare two manifolds at the speeds both cover. bands: description.measured.Bands."""
    rpm, at_a, at_b = np.intersect1d(a.rpm, b.rpm, return_indices=True)
    checks = {}
    for channel, (_, _, relative) in CHECKED.items():
        one, other = _logged(a, channel, at_a), _logged(b, channel, at_b)
        checks[channel] = _check(one, other, getattr(bands, channel), relative, rpm.size)
    differs = np.any([c.states == DIFFERS for c in checks.values()], axis=0)
    return judged_torque(a.corrected[:, at_a], b.corrected[:, at_b], a.order, b.order, rpm, checks, ~differs)


def judged_torque(
    a: np.ndarray,
    b: np.ndarray,
    order_a: np.ndarray,
    order_b: np.ndarray,
    rpm: np.ndarray,
    checks: dict[str, Check],
    alike: np.ndarray,
) -> LikeForLike:
    """The verdict on torque (pulls, s) of two manifolds at speeds ``rpm``, run in these orders; alike: where
    all else was."""
    return _Torques(a, b, order_a, order_b).judged(rpm, checks, alike)


@dataclass(frozen=True)
class _Torques:
    """Corrected torque of two manifolds (pulls, s) at common speeds, and the order of their pulls."""

    a: np.ndarray
    b: np.ndarray
    order_a: np.ndarray
    order_b: np.ndarray

    @property
    def level(self) -> np.ndarray:
        return 0.5 * (mean_of_pulls(self.a) + mean_of_pulls(self.b))

    def judged(self, rpm: np.ndarray, checks: dict[str, Check], alike: np.ndarray) -> LikeForLike:
        """The verdict; freed of the drift if a manifold came back."""
        if comes_back(self.order_a, self.order_b):
            return self._freed(rpm, checks, alike)
        spread, freedom = spread_between_pulls([self.a, self.b], relative=True)
        drift = shown_drift([self.a, self.b])
        drifted = abs(drift) * 0.5 * (len(self.a) + len(self.b))  # between the middles of the two sets
        share = least_shown(self.a / self.level, self.b / self.level, CONFIDENCE) + drifted
        torque = mean_of_pulls(self.a) - mean_of_pulls(self.b)
        masked = np.zeros(len(rpm), dtype=bool)
        return LikeForLike(rpm, checks, alike, torque, share * self.level, spread, freedom, drift, masked)

    def _freed(self, rpm: np.ndarray, checks: dict[str, Check], alike: np.ndarray) -> LikeForLike:
        columns = design(self.order_a, self.order_b, with_drift=True)
        shares = self.a / self.level, self.b / self.level
        delta, _, left = least_squares(np.concatenate(shares), columns)
        drift = drift_of(self.a, self.b, self.order_a, self.order_b)
        least = least_shown(*shares, CONFIDENCE, columns)
        masked = np.abs(delta) < drift.session_half_width  # nowhere, where that is not known
        spread = (
            float(np.sqrt(np.mean(left**2) * len(left) / drift.freedom)) if drift.freedom else float("nan")
        )
        return LikeForLike(
            rpm,
            checks,
            alike,
            delta * self.level,
            least * self.level,
            spread,
            drift.freedom,
            drift.per_pull,
            masked,
            drift,
        )


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
