"""The shape of a duct: bore against distance.

A shape is a list of (distance, diameter) points with straight cones between them, so F(x) is
quadratic within a cone. The same distance twice is an abrupt step from one bore to the other. How a
shape is divided into cells is the business of division.py.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Shape:
    """Bore against distance, with straight cones between the points.

    Parameters
    ----------
    distance : array_like, shape (n,)
        m, rising from 0; one may stand twice, with the bores before and behind a step.
    diameter : array_like, shape (n,)
        m; where a duct is not round, of the circle with its area.

    Raises
    ------
    ValueError
        For points that are no shape.
    """

    distance: np.ndarray
    diameter: np.ndarray

    def __post_init__(self) -> None:
        x, d = (np.asarray(v, dtype=float) for v in (self.distance, self.diameter))
        object.__setattr__(self, "distance", x)
        object.__setattr__(self, "diameter", d)
        if x.ndim != 1 or x.shape != d.shape or x.size < 2:
            raise ValueError("a shape needs two or more (distance, diameter) points")
        gaps = np.diff(x)
        if x[0] != 0.0 or np.any(gaps < 0.0):
            raise ValueError("distances must start at 0 and rise")
        if gaps[0] == 0.0 or gaps[-1] == 0.0 or np.any((gaps[1:] == 0.0) & (gaps[:-1] == 0.0)):
            raise ValueError("a distance may stand twice (a step), but not at an end or thrice")
        if not np.all(d > 0.0):
            raise ValueError("every diameter must be greater than 0")

    @property
    def length(self) -> float:
        """Length along the centre line, m."""
        return float(self.distance[-1])

    def bore(self, x: Any) -> Any:
        """Diameter, m, at distance ``x`` (m, scalar or array)."""
        return np.interp(x, self.distance, self.diameter)

    def area(self, x: Any) -> Any:
        """Flow area, m2, at distance ``x``."""
        return 0.25 * np.pi * self.bore(x) ** 2

    @cached_property
    def _frustums(self) -> np.ndarray:
        a, b = self.diameter[:-1], self.diameter[1:]
        return np.pi / 12.0 * np.diff(self.distance) * (a * a + a * b + b * b)

    def volume(self) -> float:
        """Enclosed volume, m3 (frustums)."""
        return float(np.sum(self._frustums))

    def volume_to(self, x: np.ndarray) -> np.ndarray:
        """Volume, m3, from the beginning to distance ``x`` (m, scalar or array); exact."""
        x = np.clip(x, 0.0, self.length)
        k = np.clip(np.searchsorted(self.distance, x, side="right") - 1, 0, self.distance.size - 2)
        before = np.concatenate([[0.0], np.cumsum(self._frustums)])[k]
        a, b, run = self.diameter[k], self.bore(x), x - self.distance[k]
        b = np.where(run > 0.0, b, a)
        return before + np.pi / 12.0 * run * (a * a + a * b + b * b)

    def inertance(self) -> float:
        """Integral of dx/F, 1/m: closed form 4/pi (x2 - x1)/(d1 d2) for each cone."""
        d = self.diameter
        return float(4.0 / np.pi * np.sum(np.diff(self.distance) / (d[:-1] * d[1:])))

    def between(self, start: float, stop: float) -> "Shape":
        """The part of it from ``start`` to ``stop``, m; neither on a step."""
        inside = (self.distance > start) & (self.distance < stop)
        return Shape(
            np.concatenate([[start], self.distance[inside], [stop]]) - start,
            np.concatenate([[self.bore(start)], self.diameter[inside], [self.bore(stop)]]),
        )

    def then(self, other: "Shape") -> "Shape":
        """This shape followed by ``other``, with a step where the bores differ."""
        skip = int(abs(self.diameter[-1] - other.diameter[0]) <= 1e-9)
        return Shape(
            np.concatenate([self.distance, self.length + other.distance[skip:]]),
            np.concatenate([self.diameter, other.diameter[skip:]]),
        )


def straight(length: float, diameter: float, end_diameter: float | None = None) -> Shape:
    """A cylinder, or a cone.

    Parameters
    ----------
    length, diameter : float
        m.
    end_diameter : float, optional
        Of a cone, m.

    Returns
    -------
    Shape

    Raises
    ------
    ValueError
        For lengths and diameters that are not positive.

    Examples
    --------
    >>> round(1e6 * straight(0.4, 0.046, 0.042).volume(), 1)  # frustum, cm3
    608.6
    """
    last = diameter if end_diameter is None else end_diameter
    return Shape(np.array([0.0, length]), np.array([diameter, last]))
