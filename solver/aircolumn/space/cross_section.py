"""Cross-sections: rectangles with rounded corners. A corner radius of half the smaller side makes a circle
or an oval (two half circles and straight sides), none a rectangle.

With width w, height h and corner radius r the area is w h - (4 - pi) r^2 and the perimeter
2 (w + h) - (8 - 2 pi) r. Between two of them along a runner w, h and r go in proportion to distance, from a
rectangular port to a round bore too.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from typing import Any

import numpy as np

SHARPEST = 2e-3  # radius of a sharp corner over the smaller side: none is sharper when made


@dataclass(frozen=True)
class CrossSection:
    """Width, height and corner radius, m: numbers, or arrays along a runner."""

    width: Any
    height: Any
    corner: Any

    @property
    def area(self) -> Any:
        """m2."""
        return self.width * self.height - (4.0 - pi) * self.corner**2

    @property
    def perimeter(self) -> Any:
        """m."""
        return 2.0 * (self.width + self.height) - (8.0 - 2.0 * pi) * self.corner

    @property
    def bore(self) -> Any:
        """Diameter of the circle with the same area, m."""
        return np.sqrt(4.0 * self.area / pi)

    @property
    def is_round(self) -> Any:
        """Whether it is a circle."""
        least = np.minimum(self.width, self.height)
        same = np.abs(self.width - self.height) < 1e-9 * least
        return same & (self.corner > (0.5 - 1e-9) * least)

    @property
    def roundness(self) -> Any:
        """0 for sharp corners, 1 for a circle or an oval."""
        return 2.0 * self.corner / np.minimum(self.width, self.height)

    def across(self, along_width: Any) -> Any:
        """How wide it is in a direction, m; along_width: cosine between that and the width."""
        c = np.abs(along_width)
        s = np.sqrt(np.maximum(1.0 - c * c, 0.0))
        return c * (self.width - 2 * self.corner) + s * (self.height - 2 * self.corner) + 2 * self.corner

    def grown(self, by: float) -> CrossSection:
        """The outline that lies ``by`` m outside of it everywhere."""
        return CrossSection(self.width + 2.0 * by, self.height + 2.0 * by, self.corner + by)

    def away(self, x: Any, y: Any) -> Any:
        """Distance of points in its plane from its outline, m, negative within."""
        u = np.abs(x) - 0.5 * self.width + self.corner
        v = np.abs(y) - 0.5 * self.height + self.corner
        return (
            np.hypot(np.maximum(u, 0.0), np.maximum(v, 0.0)) + np.minimum(np.maximum(u, v), 0.0) - self.corner
        )

    def outline(self, points: int) -> np.ndarray:
        """Corners of a polygon along it.

        Parameters
        ----------
        points : int
            A multiple of four.

        Returns
        -------
        (points, 2) array
            m along width and height, counter-clockwise, as many to each rounded corner: sections of one
            number of points can be joined point to point. The polygon has the area of the section, and is
            therefore larger than one whose corners stand on it.
        """
        quarter = points // 4
        corner = max(self.corner, SHARPEST * min(self.width, self.height))
        turn = 0.5 * pi * np.arange(quarter) / (quarter - 1)
        arcs = []
        for k, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
            angle = turn + 0.5 * pi * k
            centre = np.array([x * (0.5 * self.width - corner), y * (0.5 * self.height - corner)])
            arcs.append(centre + corner * np.column_stack([np.cos(angle), np.sin(angle)]))
        p = np.concatenate(arcs)
        return p * sqrt(self.area / polygon_area(p))


def polygon_area(corners: np.ndarray) -> float:
    """Area within a polygon (n, 2), positive if counter-clockwise."""
    x, y = corners.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def circle(bore: Any) -> CrossSection:
    """A round section of diameter ``bore``, m."""
    return CrossSection(bore, bore, 0.5 * bore)
