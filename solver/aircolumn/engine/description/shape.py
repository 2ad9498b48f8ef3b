"""The shape of a pipe that is no list of cones: a route in space, and cross-sections along it.

Both are computed as sections: cones with the areas of the cross-sections at their ends, their perimeters,
and the bends of the route.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import pi
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import BeforeValidator, Field, model_validator

from aircolumn.display_units import said_length
from aircolumn.engine.description.base import FileModel, plain_number, required
from aircolumn.engine.description.quantities import Bore, Length, Share
from aircolumn.engine.description.units import quantity
from aircolumn.flow.duct.bends import bend_loss
from aircolumn.space.centre_line import CentreLine, bent_line, smooth_line
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Passage

MOST_POINTS = 2000
FINEST = 0.005  # m, of cones where a cross-section changes its kind or a curve its radius
NODES = 8  # places at which a bend's loss is summed up in a cone
NO_TURN = 1e-6  # rad
ONE_PLANE = 0.9  # cosine between the planes of two pieces of one bend

Coordinate = Annotated[float, quantity("length", at_least="-5 m", at_most="5 m")]
Place = Annotated[list[Coordinate], Field(min_length=3, max_length=3)]
Direction = Annotated[list[Annotated[float, plain_number(-1e6, 1e6)]], Field(min_length=3, max_length=3)]


def one_or_list(value: Any) -> Any:
    """One radius means one for all bends."""
    return [value] if isinstance(value, str) else value


class Size(FileModel):
    """A cross-section at a place along a pipe: round (bore), or width, height and corner_radius (half of
    the smaller makes it oval). Between two of them all three change in proportion to distance."""

    at: Share | None = Field(None, description="share of the length, 0 % at the pipe's beginning")
    distance: Annotated[float, quantity("length", at_least="0 mm", at_most="5 m")] | None = Field(
        None, description="from the pipe's beginning, in place of at"
    )
    bore: Bore | None = Field(None, description="of a round section")
    width: Bore | None = Field(None, description="of a section that is not round")
    height: Bore | None = Field(None, description="of a section that is not round")
    corner_radius: Annotated[float, quantity("length", at_least="0 mm", at_most="250 mm")] | None = Field(
        None, description="of a section that is not round; left out: sharp corners"
    )

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.at is None) == (self.distance is None):
            raise ValueError("say where: either at (a share of the length) or distance")
        sides = [self.width, self.height]
        if self.bore is not None and (sides != [None, None] or self.corner_radius is not None):
            raise ValueError("give either bore, or width and height")
        if self.bore is None and None in sides:
            raise ValueError("give bore, or both width and height")
        if self.bore is None and (self.corner_radius or 0.0) > 0.5 * min(map(required, sides)) * (1 + 1e-9):
            raise ValueError("corner_radius can be half of the smaller side at most (an oval)")
        return self

    def place(self, length: float) -> float:
        """Distance from the pipe's beginning, m."""
        return required(self.distance) if self.at is None else self.at * length

    @property
    def sides(self) -> tuple[float, float, float]:
        """Width, height and corner radius, m."""
        if self.bore is not None:
            return self.bore, self.bore, 0.5 * self.bore
        width, height = required(self.width), required(self.height)
        return width, height, min(self.corner_radius or 0.0, 0.5 * min(width, height))


Sizes = Annotated[list[Size], Field(min_length=2, max_length=MOST_POINTS)]


class Route(FileModel):
    """A centre line through points, in flow order: straight legs with a bend at each point between the
    ends (bend_radius: one for all, or a list), or a smooth curve. The reader makes it of a CSV file too."""

    points: Annotated[list[Place], Field(min_length=2, max_length=MOST_POINTS)] = Field(
        description="list of [x, y, z]; x along the crankshaft, z up"
    )
    bend_radius: Annotated[list[Length], BeforeValidator(one_or_list)] | None = Field(
        None, description="of the centre line at the points between the ends: one for all, or a list"
    )
    curve: Literal["bends", "smooth"] = Field(
        "bends", description="bends: straight legs with bends; smooth: a curve through the points"
    )
    width_along: Direction | None = Field(
        None, description="direction [x, y, z] of sizes' width at the end; left out: along the crankshaft"
    )

    @model_validator(mode="after")
    def _line(self) -> Self:
        inner = len(self.points) - 2
        radii = self.bend_radius
        if self.curve == "smooth" and radii is not None:
            raise ValueError("bend_radius goes with curve: bends")
        if self.curve == "bends" and inner > 0 and radii is None:
            raise ValueError("bend_radius is missing (or curve: smooth)")
        if radii is not None and len(radii) not in (1, inner):
            raise ValueError(f"{len(radii)} bend radii for {inner} points between the ends")
        if self.width_along is not None and not any(self.width_along):
            raise ValueError("width_along needs a direction other than [0, 0, 0]")
        self.line()  # says what is wrong with it
        return self

    def line(self) -> CentreLine:
        """The centre line. Raises ValueError."""
        if self.curve == "smooth":
            return smooth_line(self.points)
        inner, radii = len(self.points) - 2, self.bend_radius or []
        return bent_line(self.points, radii * inner if len(radii) == 1 else radii)


def straight_line(length: float) -> CentreLine:
    """A route for a pipe that has none, m."""
    return bent_line([[0.0, 0.0, 0.0], [0.0, length, 0.0]], [])


def passage_of(line: CentreLine, sizes: Sequence[Size], width_along: Any = None) -> Passage:
    """The inside of a pipe along a centre line. Raises ValueError if the sizes do not cover it in order."""
    places = [size.place(line.length) for size in sizes]
    if abs(places[0]) > 1e-9 or abs(places[-1] - line.length) > 1e-6 * line.length:
        raise ValueError(f"sizes must begin at 0 % and end at 100 % (of {said_length(line.length, 5)})")
    if any(b <= a for a, b in pairwise(places)):
        raise ValueError("sizes must stand in order along the pipe, no two at one place")
    places[-1] = line.length
    sections = CrossSection(*np.array([size.sides for size in sizes]).T)
    return Passage(line, np.array(places), sections, None if width_along is None else np.array(width_along))


def cones_of(passage: Passage) -> list[dict[str, Any]]:
    """What a passage is computed as: sections of the engine file (SI values) one behind the other."""
    s = _stations(passage)
    section = passage.section(s)
    perimeter = None if passage.is_round else 0.5 * (section.perimeter[1:] + section.perimeter[:-1])
    rows, bends = [], _bends(passage, s)
    for k, (a, b) in enumerate(pairwise(s)):
        start, end = map(float, section.bore[k : k + 2])
        row: dict[str, Any] = {"length": float(b - a), "start": start, "end": end}
        if perimeter is not None:
            row["perimeter"] = max(float(perimeter[k]), 0.5 * pi * (start + end))
        rows.append(row | bends[k])
    return rows


def _bends(passage: Passage, s: np.ndarray) -> list[dict[str, float]]:
    """Angle, radius and loss of what bends between each two of the distances."""
    shares = (np.arange(NODES) + 0.5) / NODES
    steps = np.diff(s)
    inside = s[:-1, None] + steps[:, None] * shares
    found = passage.bent_width(inside.ravel())
    bent, width, roundness = (np.reshape(v, inside.shape) for v in found)
    turned = bent * steps[:, None] / NODES
    angle = turned.sum(axis=1)
    whole = np.degrees(_whole_angles(passage, s, angle))[:, None]
    radius = 1.0 / np.maximum(bent, 1e-9)
    of_whole = bend_loss(whole, radius, width, roundness)  # of it each piece has its share
    loss = (of_whole * np.degrees(turned) / np.maximum(whole, 1e-9)).sum(axis=1)
    return [
        {"bend_angle": float(np.degrees(a)), "bend_radius": float(step / a), "bend_loss": float(k)}
        if a > NO_TURN
        else {}
        for a, step, k in zip(angle, steps, loss, strict=True)
    ]


def _whole_angles(passage: Passage, s: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Angle, rad, of the whole bend that each piece is part of: bends that follow each other at once, in one
    plane and to one side, are one."""
    _, along, curvature = passage.line.at(0.5 * (s[1:] + s[:-1]))
    normal = np.cross(along, curvature)
    size = np.linalg.norm(normal, axis=1)
    bends = (angle > NO_TURN) & (size > 0.0)
    normal = normal / np.maximum(size, 1e-12)[:, None]
    goes_on = bends[1:] & bends[:-1] & (np.sum(normal[1:] * normal[:-1], axis=1) > ONE_PLANE)
    group = np.concatenate([[0], np.cumsum(~goes_on)])
    return np.bincount(group, weights=np.where(bends, angle, 0.0))[group]


def _stations(passage: Passage) -> np.ndarray:
    """Ends of cones: where pieces and sections change; closer where a cone would not do."""
    edges = np.unique(np.round(np.concatenate([passage.line.breaks, passage.at]), 9))
    edges = edges[np.concatenate([[True], np.diff(edges) > 1e-7])]
    edges[-1] = passage.length
    found = [edges[:1]]
    for a, b in pairwise(edges):
        ends = passage.section(np.array([a, b]))
        same_kind = bool(np.all(ends.is_round)) or np.ptp(ends.area) < 1e-12
        finer = passage.line.is_smooth or not same_kind
        count = int(np.ceil((b - a) / FINEST)) if finer else 1
        found.append(np.linspace(a, b, count + 1)[1:])
    return np.concatenate(found)
