"""Solids swept along a centre line, mm.

Rings of points around cross-sections, joined point to point: no surface is left open. Each ring has the
area of its section (cross_section.outline), so that volumes agree with the areas that are computed.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Frames, Passage

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
    for a, b in itertools.pairwise(edges):
        s = np.linspace(a, b, 9)
        bent = np.linalg.norm(passage.line.at(0.5 * (s[1:] + s[:-1]))[2], axis=1)
        count = int(np.ceil(max((b - a) / STEP, bent.max() * (b - a) / TURN, 1.0)))
        found.append(np.linspace(a, b, count + 1)[1:])
    return np.concatenate(found)


def rings(frames: Frames, sections: Sequence[CrossSection]) -> np.ndarray:
    """Points (n, AROUND, 3) around sections at frames, mm."""
    found = []
    for k, section in enumerate(sections):
        x, y = section.outline(AROUND).T
        ring = frames.place[k] + x[:, None] * frames.width[k] + y[:, None] * frames.height[k]
        found.append(MM * ring)
    return np.array(found)


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


def tube(passage: Passage, start: float, stop: float, grown: float = 0.0) -> Manifold:
    """What lies within the section, or ``grown`` m outside of it, from start to stop (m)."""
    s = stations(passage, start, stop)
    return skinned(rings(passage.frames(s), [section_at(passage, x, grown) for x in s]))


def section_at(passage: Passage, s: float, grown: float = 0.0) -> CrossSection:
    """The section at a distance (m), grown by so much (m)."""
    c = passage.section(s)
    return CrossSection(float(c.width), float(c.height), float(c.corner)).grown(grown)


def prism(passage: Passage, at: float, stop: float, section: CrossSection) -> Manifold:
    """A straight plate or rod along the direction at ``at`` (m), from there to ``stop`` (m)."""
    frames = passage.frames(np.array([at]))
    both = Frames(*(np.repeat(v, 2, axis=0) for v in vars(frames).values()))
    both.place[1] += (stop - at) * both.along[1]
    if stop < at:  # rings follow each other along the way
        both = Frames(*(v[::-1] for v in vars(both).values()))
    return skinned(rings(both, [section, section]))


def drilled(
    passage: Passage, at: float, depth: float, bolts: Sequence[Sequence[float]], bore: float
) -> list[Manifold]:
    """Rods of ``bore`` through a plate of ``depth`` at a distance, centred on places (m) in its plane."""
    hole = CrossSection(bore, bore, 0.5 * bore)
    found = []
    for x, y in bolts:
        frames = passage.frames(np.array([at]))
        both = Frames(*(np.repeat(v, 2, axis=0) for v in vars(frames).values()))
        both.place[:] += x * both.width + y * both.height
        both.place[0] -= 1.5 * depth * both.along[0]
        both.place[1] += 1.5 * depth * both.along[1]
        found.append(skinned(rings(both, [hole, hole])))
    return found
