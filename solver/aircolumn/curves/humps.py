"""Humps of a curve. (As scipy.signal.find_peaks, which takes longer to load than a dozen points to
compute.)"""

import numpy as np


def humps(y: np.ndarray, prominence: float) -> list[int]:
    """Places of the local maxima of ``y`` (the middle of a flat one) that stand out by
    ``prominence``: by so much must one go down before one can go higher, on either side.

    Examples
    --------
    >>> humps([0.0, 3.0, 2.9, 4.0, 1.0], 0.5)
    [3]
    """
    y = np.asarray(y, dtype=float)
    found, k = [], 1
    while k < y.size - 1:
        last = k
        while last + 1 < y.size and y[last + 1] == y[k]:
            last += 1
        if last + 1 < y.size and y[k - 1] < y[k] > y[last + 1]:
            at = (k + last) // 2
            if y[at] - max(_lowest(y[at::-1]), _lowest(y[at:])) >= prominence:
                found.append(at)
        k = last + 1
    return found


def _lowest(side: np.ndarray) -> float:
    """The lowest value before one that is higher than the first."""
    higher = np.flatnonzero(side > side[0])
    return float(side[: higher[0] if higher.size else None].min())
