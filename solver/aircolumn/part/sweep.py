"""Solids swept along a centre line, mm.

Rings of points around cross-sections, joined point to point: no surface is left open. Each ring has the
area of its section (cross_section.outline), so that volumes agree with the areas that are computed.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.space.cross_section import CrossSection, circle
from aircolumn.space.passage import Frames, Passage, rims

if TYPE_CHECKING:
    from manifold3d import Manifold

AROUND = 96  # points of a ring
STEP, TURN = 0.010, np.radians(2.5)  # m, rad: from ring to ring at most
MM = 1e3


def stations(passage: Passage, start: float, stop: float) -> np.ndarray:
    """Distances of rings from start to stop, m: where the section changes, and closer in bends; beyond the
    ends the runner goes on straight."""
    marks = np.concatenate([passage.line.breaks, passage.at])
    inner = marks[(marks > start + 1e-6) & (marks < stop - 1e-6)]
    edges = np.unique(np.round(np.concatenate([[start], inner, [stop]]), 9))
    found = [edges[:1]]
    for a, b in pairwise(edges):
        s = np.linspace(a, b, 9)
        bent = np.linalg.norm(passage.line.at(0.5 * (s[1:] + s[:-1]))[2], axis=1)
        count = int(np.ceil(max((b - a) / STEP, bent.max() * (b - a) / TURN, 1.0)))
        found.append(np.linspace(a, b, count + 1)[1:])
    return np.concatenate(found)


def rings(frames: Frames, sections: Sequence[CrossSection]) -> np.ndarray:
    """Points (n, AROUND, 3) around sections at frames, mm."""
    return MM * rims(frames, sections, AROUND)


def skinned(points: np.ndarray) -> Manifold:
    """The solid within rings (n, m, 3) that follow each other."""
    from manifold3d import Manifold, Mesh64

    n, m, _ = points.shape
    k = np.arange(m)
    following = (k + 1) % m
    rows = []
    for j in range(n - 1):
        a, b = j * m, (j + 1) * m
        rows.append(np.column_stack([a + k, a + following, b + following]))
        rows.append(np.column_stack([a + k, b + following, b + k]))
    first, last = n * m, n * m + 1
    rows.append(np.column_stack([np.full(m, first), following, k]))
    rows.append(np.column_stack([np.full(m, last), (n - 1) * m + k, (n - 1) * m + following]))
    centres = points[[0, -1]].mean(axis=1)
    corners = np.concatenate([points.reshape(-1, 3), centres])
    return Manifold(Mesh64(np.ascontiguousarray(corners), np.concatenate(rows).astype(np.uint64)))


def tube_rings(passage: Passage, start: float, stop: float, grown: float = 0.0) -> np.ndarray:
    """Rings of what lies within the section, or ``grown`` m outside of it, from start to stop (m), mm."""
    s = stations(passage, start, stop)
    return rings(passage.frames(s), [passage.one_section(x, grown) for x in s])


def tube(passage: Passage, start: float, stop: float, grown: float = 0.0) -> Manifold:
    """The solid within tube_rings."""
    return skinned(tube_rings(passage, start, stop, grown))


def prism(passage: Passage, at: float, stop: float, section: CrossSection) -> Manifold:
    """A straight plate or rod along the direction at ``at`` (m), from there to ``stop`` (m)."""
    ends = sorted((0.0, stop - at))  # rings follow each other along the way
    return _rod(passage.frames(np.array([at])), ends, section)


def drilled(
    passage: Passage, at: float, depth: float, bolts: Sequence[Sequence[float]], bore: float
) -> list[Manifold]:
    """Rods of ``bore`` through a plate of ``depth`` at a distance, centred on places (m) in its plane."""
    frames, ends = passage.frames(np.array([at])), [-1.5 * depth, 1.5 * depth]
    return [_rod(frames, ends, circle(bore), x, y) for x, y in bolts]


def _rod(
    frames: Frames, ends: Sequence[float], section: CrossSection, x: float = 0.0, y: float = 0.0
) -> Manifold:
    """Along one frame from end to end (m), its middle moved along the frame's width and height."""
    both = Frames(*(np.repeat(v, 2, axis=0) for v in vars(frames).values()))
    both.place[:] += np.outer(ends, frames.along[0]) + x * both.width + y * both.height
    return skinned(rings(both, [section, section]))
