"""The shape of a duct and its cells.

A shape is a list of (distance, diameter) points with straight cones between them, so F(x) is
quadratic within a cone. Cells are of equal length over the whole duct: a short section must not
force short time steps on the network.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Shape:
    """Hydraulic bore against distance, both in metres, distance rising from 0."""

    distance: np.ndarray
    diameter: np.ndarray

    def __post_init__(self):
        x, d = (np.asarray(v, dtype=float) for v in (self.distance, self.diameter))
        object.__setattr__(self, "distance", x)
        object.__setattr__(self, "diameter", d)
        if x.ndim != 1 or x.shape != d.shape or x.size < 2:
            raise ValueError("a shape needs two or more (distance, diameter) points")
        if x[0] != 0.0 or np.any(np.diff(x) <= 0.0):
            raise ValueError("distances must start at 0 and rise")
        if not np.all(d > 0.0):
            raise ValueError("every diameter must be greater than 0")

    @property
    def length(self) -> float:
        """Length along the centre line, m."""
        return float(self.distance[-1])

    def bore(self, x):
        """Diameter, m, at distance ``x`` (m, scalar or array)."""
        return np.interp(x, self.distance, self.diameter)

    def area(self, x):
        """Flow area, m2, at distance ``x``."""
        return 0.25 * np.pi * self.bore(x) ** 2

    def volume(self) -> float:
        """Enclosed volume, m3 (frustums)."""
        a, b = self.diameter[:-1], self.diameter[1:]
        return float(np.sum(np.pi / 12.0 * np.diff(self.distance) * (a * a + a * b + b * b)))

    def then(self, other: "Shape") -> "Shape":
        """This shape followed by ``other``; the bores must agree where they meet."""
        if abs(self.diameter[-1] - other.diameter[0]) > 1e-9:
            raise ValueError("sections do not meet: the bores differ")
        return Shape(
            np.concatenate([self.distance, self.length + other.distance[1:]]),
            np.concatenate([self.diameter, other.diameter[1:]]),
        )


def straight(length: float, diameter: float, end_diameter: float | None = None) -> Shape:
    """A cylinder, or a cone from ``diameter`` to ``end_diameter`` (m)."""
    last = diameter if end_diameter is None else end_diameter
    return Shape(np.array([0.0, length]), np.array([diameter, last]))
