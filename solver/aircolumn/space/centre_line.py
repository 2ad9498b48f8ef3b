"""Centre lines: straight legs with bends between them, or a smooth curve through points.

A bend of radius R that turns by theta leaves both legs R tan(theta/2) before their corner and is R theta
long. A smooth curve is the cubic spline through its points over the length of the chords, measured along
itself; its curvature is |r' x r''| / |r'|^3 (any text on the geometry of curves).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import tan
from typing import Any, Protocol

import numpy as np

from aircolumn.display_units import said_length

STRAIGHT = 1e-6  # rad: what turns by less does not turn
BACK = np.radians(179.0)  # a corner that turns by more has no bend
FINE = 64  # points between two of a smooth curve, where its length is measured
ROUNDING = 1e-7  # m


class LinePiece(Protocol):
    """A part of a centre line: its length, m, and what ``CentreLine.at`` gives for it."""

    length: float

    def at(self, s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Place, direction and curvature vector at distances from its beginning."""


@dataclass(frozen=True)
class Leg:
    """A straight piece."""

    start: np.ndarray
    direction: np.ndarray
    length: float

    def at(self, s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As LinePiece."""
        along = np.broadcast_to(self.direction, (s.size, 3))
        return self.start + s[:, None] * self.direction, along, np.zeros((s.size, 3))


@dataclass(frozen=True)
class Bend:
    """An arc. inward: from its beginning to its centre; angle, rad."""

    start: np.ndarray
    direction: np.ndarray
    inward: np.ndarray
    radius: float
    angle: float

    @property
    def length(self) -> float:
        """Along the centre line, m."""
        return self.radius * self.angle

    def at(self, s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As LinePiece."""
        turned = (s / self.radius)[:, None]
        sin, cos = np.sin(turned), np.cos(turned)
        place = self.start + self.radius * (sin * self.direction + (1.0 - cos) * self.inward)
        inward = cos * self.inward - sin * self.direction
        return place, cos * self.direction + sin * self.inward, inward / self.radius


class Smooth:
    """A cubic spline through points (n, 3), m; two points make a straight line."""

    def __init__(self, points: np.ndarray) -> None:
        from scipy.interpolate import CubicSpline  # slow to load

        chords = np.linalg.norm(np.diff(points, axis=0), axis=1)
        knots = np.concatenate([[0.0], np.cumsum(chords)])
        self.curve = CubicSpline(knots, points, bc_type="natural" if len(points) < 4 else "not-a-knot")
        share = np.arange(FINE) / FINE
        self.t = np.append((knots[:-1, None] + chords[:, None] * share).ravel(), knots[-1])
        speed = np.linalg.norm(self.curve(self.t, 1), axis=1)
        steps = 0.5 * (speed[1:] + speed[:-1]) * np.diff(self.t)
        self.s = np.concatenate([[0.0], np.cumsum(steps)])
        self.length = float(self.s[-1])

    def at(self, s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As LinePiece."""
        t = np.interp(s, self.s, self.t)
        first, second = self.curve(t, 1), self.curve(t, 2)
        speed = np.linalg.norm(first, axis=1, keepdims=True)
        along = first / speed
        across = second - np.sum(second * along, axis=1, keepdims=True) * along
        return self.curve(t), along, across / speed**2


@dataclass(frozen=True)
class CentreLine:
    """Pieces one behind the other, each going on where and as the one before ends."""

    pieces: tuple[Any, ...]

    @cached_property
    def breaks(self) -> np.ndarray:
        """Distances of the ends of pieces from the beginning, m, 0 first."""
        return np.concatenate([[0.0], np.cumsum([p.length for p in self.pieces])])

    @property
    def length(self) -> float:
        """m."""
        return float(self.breaks[-1])

    def at(self, s: Any) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Along the line.

        Parameters
        ----------
        s : array_like
            Distances from the beginning, m; beyond the ends the line goes on straight.

        Returns
        -------
        place, direction, curvature : (n, 3) arrays
            m; unit vector; 1/m, towards the centre of curvature.
        """
        s = np.atleast_1d(np.asarray(s, dtype=float))
        inside = np.clip(s, 0.0, self.length)
        which = np.clip(np.searchsorted(self.breaks, inside, side="right") - 1, 0, len(self.pieces) - 1)
        place, along, curvature = (np.empty((s.size, 3)) for _ in range(3))
        for k in np.unique(which):
            here = which == k
            found = self.pieces[k].at(inside[here] - self.breaks[k])
            place[here], along[here], curvature[here] = found
        return place + (s - inside)[:, None] * along, along, curvature

    @property
    def bends(self) -> list[tuple[float, Bend]]:
        """(distance of its beginning, bend) of every bend that is an arc."""
        starts = zip(self.breaks[:-1], self.pieces, strict=True)
        return [(float(s), p) for s, p in starts if isinstance(p, Bend)]

    @property
    def is_smooth(self) -> bool:
        """Whether it is a curve through points, with no bends of one radius."""
        return any(isinstance(p, Smooth) for p in self.pieces)

    def tightest(self) -> tuple[float, float]:
        """(distance, radius) where it is bent most, m; the radius is infinite for a straight line."""
        s = self.stations(0.002)
        bent = np.linalg.norm(self.at(s)[2], axis=1)
        k = int(np.argmax(bent))
        return float(s[k]), float(1.0 / bent[k]) if bent[k] > 0.0 else np.inf

    def stations(self, step: float) -> np.ndarray:
        """Distances no further than ``step`` m apart, with the ends and (just inside) the middles of all
        pieces."""
        parts = [
            np.linspace(a, b, 2 * max(1, int(np.ceil((b - a) / (2.0 * step)))) + 1)[:-1]
            for a, b in zip(self.breaks[:-1], self.breaks[1:], strict=True)
        ]
        return np.append(np.concatenate(parts), self.length)


def bent_line(corners: Any, radii: Sequence[float] | np.ndarray) -> CentreLine:
    """Straight legs from corner to corner, with a bend of its own radius at each corner between the ends.

    Parameters
    ----------
    corners : (n, 3) array_like
        m.
    radii : sequence of n - 2 floats
        Of the bends' centre lines, m.

    Returns
    -------
    CentreLine

    Raises
    ------
    ValueError
        If two points coincide, a corner turns back, or two bends do not fit between their corners; says at
        which point (numbers from 1 on).

    Examples
    --------
    >>> line = bent_line([[0, 0, 0], [0.1, 0, 0], [0.1, 0.2, 0]], [0.05])
    >>> round(line.length, 5)  # 50 + 50 pi/2 + 150 mm
    0.27854
    """
    p = np.asarray(corners, dtype=float)
    steps = np.diff(p, axis=0)
    spans = np.linalg.norm(steps, axis=1)
    if np.any(spans < ROUNDING):
        raise ValueError(f"points {np.argmin(spans) + 1} and {np.argmin(spans) + 2} are the same")
    along = steps / spans[:, None]
    turns = [_turn(along[k], along[k + 1], k + 2) for k in range(len(p) - 2)]
    cut = [r * tan(0.5 * a) for r, a in zip(radii, turns, strict=True)]  # of both legs at a corner
    before, behind = [0.0, *cut], [*cut, 0.0]
    pieces: list[Any] = []
    for k, span in enumerate(spans):
        left = span - before[k] - behind[k]
        if left < -ROUNDING:
            raise ValueError(_no_room(k, span, before[k], behind[k]))
        if left > ROUNDING:
            pieces.append(Leg(p[k] + before[k] * along[k], along[k], left))
        if k < len(turns) and turns[k] > STRAIGHT:
            across = along[k + 1] - np.dot(along[k + 1], along[k]) * along[k]
            begin = p[k + 1] - behind[k] * along[k]
            pieces.append(Bend(begin, along[k], across / np.linalg.norm(across), radii[k], turns[k]))
    return CentreLine(tuple(pieces))


def _turn(before: np.ndarray, behind: np.ndarray, number: int) -> float:
    """By how much a corner turns, rad."""
    angle = float(np.arctan2(np.linalg.norm(np.cross(before, behind)), np.dot(before, behind)))
    if angle > BACK:
        raise ValueError(f"the route turns back on itself at point {number}")
    return angle


def _no_room(k: int, span: float, before: float, behind: float) -> str:
    return (
        f"from point {k + 1} to point {k + 2} there are {said_length(span)}, but the bends there need"
        f" {said_length(before + behind)}; move the points apart or take smaller bend radii"
    )


def smooth_line(points: Any) -> CentreLine:
    """The smooth curve through points (n, 3), m. Raises ValueError if two that follow are the same."""
    p = np.asarray(points, dtype=float)
    spans = np.linalg.norm(np.diff(p, axis=0), axis=1)
    if np.any(spans < ROUNDING):
        raise ValueError(f"points {np.argmin(spans) + 1} and {np.argmin(spans) + 2} are the same")
    return CentreLine((Smooth(p),))
