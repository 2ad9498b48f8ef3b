"""Which rows of a sweep were taken with the engine at full load.

A logger runs on while the load comes on, after the throttle is shut and while the engine runs down. None of
these rows say anything of a manifold. Where no throttle was logged, torque and speed tell:

    speed turns back      rows of a sweep before its speed starts, and after its speed has turned
    run-down              a sweep the other way with less than ALIKE of the torque of the main one
    load coming on, off   rows at a sweep's beginning or end with less than SUDDEN of what the next have;
                          from there on inwards as long as torque lies below a line through them
    another pull          a whole sweep with less than ALIKE of the torque of the others

Rows without torque above zero are left out before. SUDDEN and ALIKE: no engine's torque at full load changes
so much within a fifth of its range of speeds, or from pull to pull (common practice, no source)."""

from dataclasses import dataclass, field

import numpy as np

from aircolumn.display_units import percent
from aircolumn.measured.logs.sweeps import are_steps

ALIKE, SUDDEN, SETTLED, STEADY = 0.85, 0.7, 0.97, 0.99
STANDING = 0.01  # of the range: the speed does not move yet
TURNED = 0.03  # of the range: speed has turned back, not only jittered
BINS, NEXT = 20, 4  # of the range of speeds; bins that count as the next speeds
FEWEST = 3  # rows, or bins, that tell anything


@dataclass
class Rows:
    """Speeds and torques of rows in order, which of them are kept, and why others are not: {row: reason}."""

    rpm: np.ndarray
    torque: np.ndarray
    kept: np.ndarray = field(init=False)
    why: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.kept = np.ones(len(self.rpm), dtype=bool)

    def drop(self, rows: np.ndarray, reason: str) -> None:
        """Leave rows (numbers) out."""
        for k in np.asarray(rows):
            if self.kept[k]:
                self.kept[k] = False
                self.why[int(k)] = reason


def at_full_load(rows: Rows, legs: list[tuple[int, int, int]]) -> None:
    """Drop rows of sweeps (first row, row after the last, way) in which the load is not on."""
    swept = [leg for leg in legs if leg[2]]
    for leg in swept:
        _turning_back(rows, leg)
    for leg in swept:
        _loading(rows, leg)
        _loading(rows, leg, at_the_end=True)


def _turning_back(rows: Rows, leg: tuple[int, int, int]) -> None:
    """Drop what lies before a sweep's speed starts and after it has turned."""
    start, stop, way = leg
    along = way * rows.rpm[start:stop]
    first, top = _last_lowest(along), int(np.argmax(along))
    slack = TURNED * float(np.ptp(along))
    before, after = np.arange(first), np.arange(top + 1, len(along))
    before = before[along[:first] - along[first] > slack]
    after = after if after.size and along[top] - along[after].min() > slack else after[:0]
    if are_steps(along):  # points that were run once more are as good as the others, if the load was on
        torque = rows.torque[start:stop]
        due = np.interp(along, along[first : top + 1], torque[first : top + 1])
        before, after = (part[torque[part] < ALIKE * due[part]] for part in (before, after))
    rows.drop(start + before, "speed turns before the sweep begins")
    rows.drop(start + after, f"speed {'falls' if way > 0 else 'rises'} after the end of the sweep")


def _last_lowest(along: np.ndarray) -> int:
    """The last of the rows about the lowest speed before the highest."""
    before = along[: int(np.argmax(along)) + 1]
    return len(before) - 1 - int(np.argmin(before[::-1]))


def _loading(rows: Rows, leg: tuple[int, int, int], at_the_end: bool = False) -> None:
    """Drop rows in which the load is coming on, or has gone off."""
    numbers = np.arange(leg[0], leg[1])
    numbers = numbers[rows.kept[numbers]]
    numbers = numbers[::-1] if at_the_end else numbers
    way = -leg[2] if at_the_end else leg[2]
    if len(numbers) < 2 * FEWEST:
        return
    along, torque = way * rows.rpm[numbers], rows.torque[numbers]
    due = _of_the_next_speeds(along, torque)
    low = torque < SUDDEN * due
    count = _leading(low)
    sudden = count > 0
    if not sudden and (at_the_end or not _begins_low(along, torque)):
        return
    while count < len(numbers) - 2 * FEWEST and (
        _still_rising(along, torque, count)
        or (sudden and torque[count] < SETTLED * _line(along, torque, count))
    ):
        count += 1
    reason = "the load has gone off" if at_the_end else "the load is coming on"
    rows.drop(numbers[:count], f"{reason}: torque below that of the speeds beside")


def _still_rising(along: np.ndarray, torque: np.ndarray, at: int) -> bool:
    """Whether torque rises while the speed still stands."""
    following = slice(at + 1, at + 1 + FEWEST)
    stands = np.abs(along[following] - along[at]).max() <= TURNED * np.ptp(along)
    return bool(stands and torque[at] < STEADY * np.median(torque[following]))


def _begins_low(along: np.ndarray, torque: np.ndarray) -> bool:
    """Whether the first rows rise one after the other, and by more than noise does, while the speed
    stands."""
    first, speeds = torque[: FEWEST + 1], along[: FEWEST + 1]
    stands = np.ptp(speeds) <= STANDING * np.ptp(along)
    return bool(stands and np.all(np.diff(first) > 0.0) and first[0] < SETTLED * first[-1])


def _leading(low: np.ndarray) -> int:
    """How many rows at the beginning are mostly low."""
    share = np.cumsum(low) / np.arange(1, len(low) + 1)
    there = np.flatnonzero(low & (share > ALIKE))
    return int(there[-1]) + 1 if there.size and low[0] else 0


def _of_the_next_speeds(along: np.ndarray, torque: np.ndarray) -> np.ndarray:
    """Median of the torque at the next speeds, each speed counting once; of all of them, where few are
    left."""
    edge = (along - along.min()) / max(float(np.ptp(along)), 1e-9) * BINS
    place = np.minimum(edge.astype(int), BINS - 1)
    level = np.array([np.median(torque[place == b]) if (place == b).any() else np.nan for b in range(BINS)])
    due = np.empty(len(along))
    for b in range(BINS):
        near = level[b + 1 : b + 1 + NEXT]
        near = near[np.isfinite(near)]
        due[place == b] = np.median(near) if near.size >= FEWEST else np.nanmedian(level)
    return np.maximum(due, 0.5 * np.nanmedian(level))


def _line(along: np.ndarray, torque: np.ndarray, at: int) -> float:
    """Torque at a row by a line through rows of the next speeds."""
    ahead = along - along[at]
    near = (ahead > 0.02 * np.ptp(along)) & (ahead <= NEXT / BINS * np.ptp(along))
    near[: at + 1] = False
    if near.sum() < FEWEST:
        return 0.0
    return float(np.polyval(np.polyfit(ahead[near], torque[near], 1), 0.0))


def alike(rows: Rows, legs: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """The sweeps that have about the torque of the strongest; the others are dropped."""
    if len(legs) < 2:
        return legs
    levels = _levels(rows, legs)
    kept = []
    for leg, level in zip(legs, levels, strict=True):
        others = np.array([other for other, one in zip(levels, legs, strict=True) if one is not leg])
        both = np.isfinite(level) & np.isfinite(others).any(axis=0)
        share = 1.0
        if both.any():
            share = float(np.median(level[both] / np.nanmax(others[:, both], axis=0)))
        if share >= ALIKE:
            kept.append(leg)
            continue
        word = "run-down" if leg[2] < 0 else "not at full load"
        said = f"{word}: torque {percent(share, '.0f')} of that of another sweep"
        rows.drop(np.arange(leg[0], leg[1]), said)
    return kept


def _levels(rows: Rows, legs: list[tuple[int, int, int]]) -> np.ndarray:
    """Median torque of each sweep in bins of speed (legs, BINS), NaN where it has none."""
    edges = np.linspace(rows.rpm.min(), rows.rpm.max(), BINS + 1)
    place = np.clip(np.searchsorted(edges, rows.rpm, side="right") - 1, 0, BINS - 1)
    levels = np.full((len(legs), BINS), np.nan)
    for k, (start, stop, _) in enumerate(legs):
        part = np.arange(start, stop)
        part = part[rows.kept[part]]
        for b in np.unique(place[part]):
            levels[k, b] = np.median(rows.torque[part][place[part] == b])
    return levels
