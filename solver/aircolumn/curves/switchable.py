"""Candidates built as one manifold that changes over between them.

At every speed the manifold uses one of its runners. It changes over where the torque curves meet
(straight lines between computed points), so that the driver feels no step; leads of less than TIE
(summary.py) do not make it change, so that curves which lie on each other do not make it hunt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.interest import Range, all_speeds, interest
from aircolumn.curves.summary import TIE, last_meeting
from aircolumn.curves.to_xarray import shown_figure, shown_ve

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.reader import Description


@dataclass(frozen=True)
class Switched:
    """What a switchable manifold gives: rpm (n); the runner in use at each; torque N m and VE then;
    changes: (rev/min, runner below, runner above); means: for some ranges (rev/min, rev/min) its
    mean torque and {runner: mean torque of that alone}."""

    name: str
    rpm: np.ndarray
    runner: list[str]
    torque: np.ndarray
    ve: np.ndarray
    changes: list[tuple[float, str, str]]
    means: dict[Range, tuple[float, dict[str, float]]]


def all_switched(description: Description, data: xr.Dataset) -> list[Switched]:
    """The switchable manifolds of an engine file, from the curves of its runners; without those of
    which fewer than two speeds could be computed."""
    span = interest(description.engine.speeds, data.rpm.values)
    torque = data.torque
    return [
        switched(name, data, runners, span)
        for name, runners in description.switchable.items()
        if np.isfinite(torque.sel(runner=runners)).all("runner").sum() > 1
    ]


def switched(name: str, data: xr.Dataset, runners: Sequence[str], span: Range | None = None) -> Switched:
    """The manifold ``name`` of some runners of a Dataset of curves; span: a range for means beside
    that of all speeds. Speeds where one of them could not be computed are left out, and
    means are then not known."""
    torque = np.array([data[shown_figure(data, "torque")[0]].sel(runner=r).values for r in runners])
    ve = np.array([data[shown_ve(data)[0]].sel(runner=r).values for r in runners])
    known = np.isfinite(torque).all(axis=0)
    rpm, torque, ve = data.rpm.values[known], torque[:, known], ve[:, known]
    used, changes = _in_use(rpm, torque)
    at = np.arange(rpm.size)
    best = torque[used, at]
    # Where it changes over, both runners give the same torque: the curve has a corner there.
    corners = [c for c, _, _ in changes]
    heights = [np.interp(c, rpm, torque[i]) for c, i, _ in changes]
    x = np.concatenate([rpm, corners])
    order = np.argsort(x)
    x, y = x[order], np.concatenate([best, heights])[order]
    means = {
        one: (
            one.mean(x, y),
            {r: one.mean(rpm, t) for r, t in zip(runners, torque, strict=True)},
        )
        for one in ([span] if span else []) + [all_speeds(rpm)]
        if known.all()
    }
    named = [(c, runners[i], runners[j]) for c, i, j in changes]
    return Switched(name, rpm, [runners[i] for i in used], best, ve[used, at], named, means)


def _in_use(rpm: np.ndarray, torque: np.ndarray) -> tuple[np.ndarray, list[tuple[float, int, int]]]:
    """Row in use at every speed, and (speed, row below, row above) of each change."""
    leader, since = int(np.argmax(torque[:, 0])), 0
    used: list[int] = []
    changes: list[tuple[float, int, int]] = []
    for k in range(rpm.size):
        best = int(np.argmax(torque[:, k]))
        if torque[best, k] > (1.0 + TIE) * torque[leader, k]:
            at = last_meeting(rpm[since : k + 1], (torque[best] - torque[leader])[since : k + 1])
            used[np.searchsorted(rpm, at) :] = [best] * (k - int(np.searchsorted(rpm, at)))
            changes.append((at, leader, best))
            leader, since = best, k
        used.append(leader)
    return np.array(used), changes
