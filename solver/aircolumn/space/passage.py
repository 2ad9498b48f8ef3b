"""A passage: cross-sections along a centre line, and which way their widths point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from aircolumn.space.centre_line import CentreLine
from aircolumn.space.cross_section import CrossSection

DENSE = 0.002  # m, steps in which the direction of the width is carried along
SIDEWAYS = (np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]))  # width: along the crankshaft, or across


@dataclass(frozen=True)
class Frames:
    """Where a passage is and how it is turned, (n, 3) arrays: places m; unit vectors along it and along its
    width and height."""

    place: np.ndarray
    along: np.ndarray
    width: np.ndarray
    height: np.ndarray


def rims(frames: Frames, sections: Sequence[CrossSection], points: int) -> np.ndarray:
    """Points (n, points, 3) around sections at frames, m."""
    found = []
    for k, section in enumerate(sections):
        x, y = section.outline(points).T
        found.append(frames.place[k] + x[:, None] * frames.width[k] + y[:, None] * frames.height[k])
    return np.array(found)


@dataclass(frozen=True, eq=False)
class Passage:
    """A runner's inside.

    line: its centre line; at: distances, m, from 0 to its length, of the sections (arrays of n); between them
    width, height and corner radius go in proportion. width_along: direction of the width at its end, (3,).
    """

    line: CentreLine
    at: np.ndarray
    sections: CrossSection
    width_along: np.ndarray | None = None

    @property
    def length(self) -> float:
        """m."""
        return self.line.length

    def section(self, s: Any) -> CrossSection:
        """At distances s, m (numbers, or arrays)."""
        c = self.sections
        return CrossSection(*(np.interp(s, self.at, v) for v in (c.width, c.height, c.corner)))

    def one_section(self, s: float, grown: float = 0.0) -> CrossSection:
        """At one distance (m), of plain numbers, grown by so much (m)."""
        c = self.section(s)
        return CrossSection(float(c.width), float(c.height), float(c.corner)).grown(grown)

    def area(self, s: Any) -> Any:
        """m2."""
        return self.section(s).area

    def volume(self, start: float = 0.0, stop: float | None = None) -> float:
        """Enclosed volume between two distances, m3: areas over the centre line, which is exact while that
        runs through the centroids and no section reaches the centre of curvature (Pappus)."""
        stop = self.length if stop is None else stop
        inner = self.at[(self.at > start) & (self.at < stop)]
        edges = np.concatenate([[start], inner, [stop]])
        middle = 0.5 * (edges[1:] + edges[:-1])  # w h and r^2 are quadratic: Simpson's rule is exact
        areas = self.area(edges)
        return float(np.sum(np.diff(edges) * (areas[:-1] + 4.0 * self.area(middle) + areas[1:])) / 6.0)

    @cached_property
    def is_round(self) -> bool:
        """Whether it is round all along."""
        return bool(np.all(self.sections.is_round))

    def frames(self, s: Any) -> Frames:
        """At distances s, m; the width turns no more than the centre line makes it.

        Carried along by double reflection (Wang et al., ACM Trans. Graph. 27, 2008: computation of rotation
        minimizing frames), from the end backwards.
        """
        s = np.atleast_1d(np.asarray(s, dtype=float))
        count = int(np.ceil(self.length / DENSE)) + 1
        every, back = np.unique(
            np.concatenate([np.linspace(0.0, self.length, count), s]), return_inverse=True
        )
        place, along, _ = self.line.at(every)
        start = int(np.searchsorted(every, self.length))
        width = np.empty_like(place)
        width[start] = self._first_width(along[start])
        for way in (-1, 1):
            k = start
            while 0 <= k + way < len(every):
                width[k + way] = _carried(place[[k, k + way]], along[[k, k + way]], width[k])
                k += way
        own = back.ravel()[count:]
        return Frames(place[own], along[own], width[own], np.cross(along[own], width[own]))

    def _first_width(self, along: np.ndarray) -> np.ndarray:
        for asked in (self.width_along, *SIDEWAYS):
            if asked is not None:
                across = asked - np.dot(asked, along) * along
                if np.linalg.norm(across) > 0.1 * np.linalg.norm(asked):
                    return across / np.linalg.norm(across)
        raise AssertionError("two axes cannot both be parallel to a direction")

    def bent_width(self, s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(curvature 1/m, width in the plane of the bend m, roundness) at distances s."""
        _, _, curvature = self.line.at(s)
        bent = np.linalg.norm(curvature, axis=1)
        section = self.section(s)
        if self.is_round:
            return bent, section.width, section.roundness
        inward = curvature / np.maximum(bent, 1e-12)[:, None]
        cosine = np.sum(inward * self.frames(s).width, axis=1)
        return bent, section.across(cosine), section.roundness


def _carried(place: np.ndarray, along: np.ndarray, width: np.ndarray) -> np.ndarray:
    """The width at the second of two places, from that at the first."""
    step = place[1] - place[0]
    size = float(step @ step)
    if size == 0.0:
        return width
    mirrored_width = width - 2.0 / size * (step @ width) * step
    mirrored_along = along[0] - 2.0 / size * (step @ along[0]) * step
    tilt = along[1] - mirrored_along
    size = float(tilt @ tilt)
    if size < 1e-24:
        return mirrored_width
    return mirrored_width - 2.0 / size * (tilt @ mirrored_width) * tilt
