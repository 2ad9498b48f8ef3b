"""Readings that stand apart from their neighbours.

Each reading is compared with a line through the readings about it, of which up to half may be wrong: slope
and level by repeated medians (Siegel 1982, Biometrika 69; as a moving filter Davies, Fried & Gather 2004, J.
Stat. Plan. Inference 122; both from memory). It stands apart if it lies off by more than APART standard
deviations, these from the median of all such distances (of a normal distribution 0.6745), and by more than a
floor."""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

APART = 6.0
TO_SIGMA = 1.0 / 0.6745  # from the median of distances
WIDE, NARROW = 9, 5  # readings in a window: of many, of few
MANY = 25
AT_A_TIME = 20_000  # windows


def stand_apart(x: np.ndarray, y: np.ndarray, floor: np.ndarray | float) -> np.ndarray:
    """Which readings stand apart.

    Parameters
    ----------
    x, y : arrays (n,)
        Where they were read, in any order, and the readings; NaN is no reading and never stands apart.
    floor : float or array (n,)
        Distance, in the unit of y, below which none does.

    Returns
    -------
    array (n,) of bool
    """
    there = np.flatnonzero(np.isfinite(y) & np.isfinite(x))
    order = there[np.argsort(x[there], kind="stable")]
    found = np.zeros(len(y), dtype=bool)
    if order.size < NARROW:
        return found
    off = np.abs(y[order] - smooth(x[order], y[order]))
    limit = np.maximum(APART * TO_SIGMA * float(np.median(off)), np.full(len(y), floor)[order])
    found[order] = off > limit
    return found


def smooth(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The line of repeated medians through the readings about each (n,), at that reading; x in order."""
    width = WIDE if len(x) >= MANY else NARROW
    width = min(width, len(x) - 1 + len(x) % 2)
    starts = np.clip(np.arange(len(x)) - width // 2, 0, len(x) - width)
    windows = sliding_window_view(x, width), sliding_window_view(y, width)
    at = [
        _level(windows[0][part], windows[1][part], x[k : k + len(part)])
        for k in range(0, len(x), AT_A_TIME)
        for part in [starts[k : k + AT_A_TIME]]
    ]
    return np.concatenate(at)


def _level(x: np.ndarray, y: np.ndarray, at: np.ndarray) -> np.ndarray:
    """The line through each window (rows of x and y) by repeated medians, at a place."""
    run, rise = x[:, :, None] - x[:, None, :], y[:, :, None] - y[:, None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        slopes = np.where(run == 0.0, np.nan, rise / run)
    slope = np.median(_median(slopes), axis=1)
    return np.median(y - slope[:, None] * (x - at[:, None]), axis=1)


def _median(slopes: np.ndarray) -> np.ndarray:
    """Median along the last axis without its NaN, 0 where there is nothing else (all at one place). By
    sorting, which puts NaN last: numpy.nanmedian takes five times as long for a few values each."""
    count = np.isfinite(slopes).sum(axis=-1, keepdims=True)
    order = np.sort(slopes, axis=-1)
    middle = np.concatenate([np.maximum(count - 1, 0) // 2, count // 2], axis=-1)
    found = np.take_along_axis(order, middle, axis=-1).mean(axis=-1)
    return np.where(count[..., 0] > 0, found, 0.0)
