"""What a passage keeps clear of: itself, its neighbours in a bank, planes and boxes."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from aircolumn.display_units import said_bore, said_length, said_place
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Passage, rims

STEP, MOST = 0.004, 200  # m, along the passage, but not many more places than that
RIM = 48  # points around it


@dataclass(frozen=True)
class Plane:
    """Nothing may lie beyond it. through: a point of it, m; normal: pointing to where nothing may be."""

    through: np.ndarray
    normal: np.ndarray

    def room(self, points: np.ndarray) -> np.ndarray:
        """Distance to it, m, negative beyond it; points (..., 3)."""
        unit = self.normal / np.linalg.norm(self.normal)
        return (self.through - points) @ unit


@dataclass(frozen=True)
class Box:
    """Nothing may lie in it. low, high: its corners, m."""

    low: np.ndarray
    high: np.ndarray

    def room(self, points: np.ndarray) -> np.ndarray:
        """Distance to it, m, negative within; points (..., 3)."""
        out = np.maximum(self.low - points, points - self.high)
        away = np.linalg.norm(np.maximum(out, 0.0), axis=-1)
        return np.where(away > 0.0, away, np.max(out, axis=-1))


@dataclass(frozen=True)
class Limits:
    """Planes and boxes by name; clearance m to be kept to them and between outsides; wall m; spacing between
    neighbours m, (3,), None for a runner alone."""

    things: dict[str, Plane | Box] = field(default_factory=dict)
    clearance: float = 0.0
    wall: float = 0.0
    spacing: np.ndarray | None = None


def faults(passage: Passage, limits: Limits) -> list[str]:
    """What a passage does not keep clear of, in words; empty if it is sound.

    Planes and boxes are not looked at over the last half of its outer width, where it is bolted to the head.
    """
    s = passage.line.stations(max(STEP, passage.length / MOST))
    found = [*_too_tight(passage, s, limits.wall), *_crossings(passage, s, limits)]
    last = passage.section(passage.length)
    s = s[s <= passage.length - 0.5 * max(last.width, last.height) - limits.wall]
    rim = outside(passage, s, limits.wall)
    for name, thing in limits.things.items():
        room = thing.room(rim)
        k = np.unravel_index(int(np.argmin(room)), room.shape)
        if room[k] < limits.clearance - 1e-9:
            found.append(
                f"at {said_place(s[k[0]])} from its mouth the outside comes within {said_bore(room[k])}"
                f" of '{name}'; {said_length(limits.clearance, 6)} are to be kept"
                if room[k] >= 0.0
                else f"at {said_place(s[k[0]])} from its mouth the outside is {said_bore(-room[k])}"
                f" beyond '{name}'"
            )
    return found


def outside(passage: Passage, s: np.ndarray, wall: float) -> np.ndarray:
    """Points (n, RIM, 3) around the outside at distances s, m."""
    return rims(passage.frames(s), [passage.one_section(x, wall) for x in s], RIM)


def _too_tight(passage: Passage, s: np.ndarray, wall: float) -> list[str]:
    """Bends whose inside would fold over: the radius must exceed half the outer width."""
    bent, width, _ = passage.bent_width(s)
    half = 0.5 * width + wall
    k = int(np.argmax(bent * half))
    if bent[k] * half[k] < 1.0:
        return []
    return [
        f"at {said_place(s[k])} from its mouth the radius is {said_length(1.0 / bent[k])}, but the outside"
        f" there reaches {said_length(half[k])} inwards: it would fold over itself; take a larger radius"
    ]


def _crossings(passage: Passage, s: np.ndarray, limits: Limits) -> list[str]:
    """Where it comes too near to itself, or to the next runner of a bank."""
    place = passage.line.at(s)[0]
    section = passage.section(s)
    half = 0.5 * np.sqrt(section.width * section.height) + limits.wall  # of a circle as large
    apart = half[:, None] + half[None]
    far = np.abs(s[:, None] - s[None]) > 0.5 * np.pi * apart  # beyond a half turn
    found = []
    gap = np.linalg.norm(place[:, None] - place[None], axis=2) - apart
    k = np.unravel_index(int(np.argmin(np.where(far, gap, np.inf))), gap.shape)
    if far[k] and gap[k] < 0.0:
        a, b = sorted((s[k[0]], s[k[1]]))
        found.append(f"it crosses itself: {said_place(a)} and {said_place(b)} from its mouth are one place")
    elif far[k] and gap[k] < limits.clearance - 1e-9:
        a, b = sorted((s[k[0]], s[k[1]]))
        found.append(
            f"{said_place(a)} and {said_place(b)} from its mouth its walls are {said_bore(gap[k])} apart;"
            f" {said_length(limits.clearance, 6)} are to be kept"
        )
    if limits.spacing is not None:
        found += _to_neighbour(passage, s, limits)
    return found


def _to_neighbour(passage: Passage, s: np.ndarray, limits: Limits) -> list[str]:
    assert limits.spacing is not None
    rim = outside(passage, s, limits.wall)
    frames, section = passage.frames(s), passage.section(s).grown(limits.wall)
    moved = rim + limits.spacing
    away = np.linalg.norm(moved[:, :, None] - frames.place[None, None], axis=3)  # (n, RIM, m)
    nearest = np.argmin(away, axis=2)
    delta = moved - frames.place[nearest]
    there = CrossSection(section.width[nearest], section.height[nearest], section.corner[nearest])
    x, y = (np.sum(delta * axis[nearest], axis=2) for axis in (frames.width, frames.height))
    gap = there.away(x, y)
    k = np.unravel_index(int(np.argmin(gap)), gap.shape)
    if gap[k] >= limits.clearance - 1e-9:
        return []
    spacing = float(np.linalg.norm(limits.spacing))
    return [
        f"{said_place(s[k[0]])} from its mouth it is {said_bore(max(gap[k], 0.0))} from the next runner"
        f" at {said_length(spacing)} spacing; {said_length(limits.clearance, 6)} are to be kept"
    ]
