"""The pipes of an engine file as ducts: shapes, and wall data by distance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import lru_cache, reduce
from itertools import pairwise
from math import pi, sqrt
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.pipes import BEND
from aircolumn.flow.duct.bends import bend_loss
from aircolumn.flow.duct.geometry import Shape, straight
from aircolumn.flow.ends.openings import end_correction, entry_loss
from aircolumn.flow.network.declared import laid_out
from aircolumn.flow.network.items import NO_WALL, DuctLayout, Wall

if TYPE_CHECKING:
    from aircolumn.engine.description.pipes import Pipe, Section

LEAST_CELLS = 4  # of a duct
KEPT = 512  # layouts: what is asked for at every speed of a few engines


@dataclass(frozen=True)
class Segment:
    """A straight or conical segment of a pipe run (m) and its wall, the same all along it."""

    length: float
    start: float
    end: float
    wall: Wall = NO_WALL


def open_air(length: float, bore: float) -> Segment:
    """A segment of open air: no wall there."""
    return Segment(length, bore, bore)


class Piping:
    """Pipes one behind the other as one duct: its shape, and its wall data by distance."""

    def __init__(self) -> None:
        self.segments: list[Segment] = []
        self.open_air_before = 0.0  # m, of the shape's length
        self.part: tuple[float, float] | None = None  # from, to (m), of what the segments make

    def add(self, pipe: Any, lossless: bool = False) -> None:
        """Append a pipe of the engine file; an open first bore continues the bore before it.

        lossless: its friction and bends are counted elsewhere.
        """
        before = self.segments[-1].end if self.segments else None
        values = pipe.wall_values()
        if lossless:
            values["friction"] = 0.0
        for cone in pipe_sections(pipe, before):
            bend = 0.0 if lossless else cone.bend / cone.length
            wall = Wall(**values, bend=bend, roundness=cone.roundness)
            self.segments.append(Segment(cone.length, cone.start, cone.end, wall))

    def add_mouth(self, pipe: Any) -> None:
        """Begin with the air that moves in front of a pipe with an entry."""
        entry, bore = pipe.entry, required(pipe.first_bore)
        length = end_correction(entry.shape, bore, entry.free) if entry.end_correction else 0.0
        if length > 0.0:
            self.segments.append(open_air(length, bore))
            self.open_air_before += length

    def add_open_air(self) -> None:
        """Lengthen the end by the air that moves with the column behind a plain mouth."""
        bore = self.segments[-1].end
        self.segments.append(open_air(end_correction("plain", bore), bore))

    @property
    def shape(self) -> Shape:
        """Bore against distance."""
        return _shape(tuple(self.segments), self.part)

    def wall(self) -> Wall:
        """The wall along the duct."""
        return _wall(tuple(self.segments), self.part)

    def layout(self, cell: float, steepest: float) -> DuctLayout:
        """The duct divided into cells of about ``cell`` metres (steepest: see duct/division.py); the same
        object for the same segments, whichever engine speed asks for it."""
        return _layout(tuple(self.segments), self.part, cell, steepest)


@lru_cache(maxsize=KEPT)
def _shape(segments: tuple[Segment, ...], part: tuple[float, float] | None) -> Shape:
    first, *others = (straight(s.length, s.start, s.end) for s in segments)
    whole = reduce(Shape.then, others, first)
    return whole if part is None else whole.between(*part)


def _wall(segments: tuple[Segment, ...], part: tuple[float, float] | None) -> Wall:
    edges, begin = np.cumsum([s.length for s in segments]), 0.0 if part is None else part[0]

    def along(name: str) -> Callable:
        """Function of distance (m, array) giving the value ``name`` of the wall there."""
        values = np.array([getattr(s.wall, name) for s in segments])
        return lambda x: values[np.minimum(np.searchsorted(edges, x + begin), len(edges) - 1)]

    return Wall(**{field.name: along(field.name) for field in fields(Wall)})


@lru_cache(maxsize=KEPT)
def _layout(
    segments: tuple[Segment, ...], part: tuple[float, float] | None, cell: float, steepest: float
) -> DuctLayout:
    shape = _shape(segments, part)
    return laid_out(shape, cells_for(shape.length, cell), _wall(segments, part), steepest)


def cells_for(length: float, target: float) -> int:
    """Number of cells of about ``target`` metres in ``length``, LEAST_CELLS at least."""
    return max(LEAST_CELLS, round(length / target))


class Cone(NamedTuple):
    """A section of a pipe: length, first and last bore, m; loss coefficient of its bend; roundness: the
    perimeter of a circle with its area over its own."""

    length: float
    start: float
    end: float
    bend: float = 0.0
    roundness: float = 1.0


def pipe_sections(pipe: Any, bore_before: float | None) -> list[Cone]:
    """The sections of a pipe; an open first bore takes ``bore_before``."""
    if pipe.sections is None:
        start = required(bore_before) if pipe.bore.start is None else pipe.bore.start
        return _bent([Cone(pipe.length, start, pipe.bore.end)], pipe)
    rows, before = [], bore_before
    for s in pipe.sections:
        start = required(before) if s.bore.start is None else s.bore.start
        around = 0.5 * pi * (start + s.bore.end)
        roundness = 1.0 if s.perimeter is None else min(around / s.perimeter, 1.0)
        loss = _bend_loss(s, 0.5 * (start + s.bore.end), pipe)
        rows.append(Cone(s.length, start, s.bore.end, loss, roundness))
        before = s.bore.end
    return _bent(rows, pipe)


def _bent(cones: list[Cone], pipe: Any) -> list[Cone]:
    """The sections with the loss of the whole pipe's bend, in proportion to their lengths."""
    if not pipe.bend_angle:
        return cones
    length = sum(c.length for c in cones)
    bore = sum(0.5 * c.length * (c.start + c.end) for c in cones) / length
    loss = pipe.bend_factor * float(bend_loss(pipe.bend_angle, pipe.bend_radius or BEND * bore, bore))
    return [c._replace(bend=c.bend + loss * c.length / length) for c in cones]


def _bend_loss(section: Section, bore: float, pipe: Any) -> float:
    """Loss of the bend of a piece whose mean bore is ``bore``, m. Of a piece that is not round, area and
    perimeter tell how far it is from a circle, and bend_width how wide it is in the bend."""
    if not section.bend_angle:
        return 0.0
    if section.bend_loss is not None:  # of a route: as computed
        return section.bend_loss * (pipe.bend_factor if pipe.is_drawn else 1.0)
    width, round_share, around = bore, 1.0, section.perimeter
    if around is not None:
        side = 0.5 * sqrt(pi) * bore  # of the square with its area
        round_share = min(max((4.0 * side - around) / (4.0 * side - pi * bore), 0.0), 1.0)
        width = section.bend_width or side
    loss = bend_loss(section.bend_angle, required(section.bend_radius), width, round_share)
    return pipe.bend_factor * float(loss)


def pipe_shape(pipe: Pipe) -> Shape:
    """Shape of one pipe of the engine file, without what stands before and behind it."""
    piping = Piping()
    piping.add(pipe)
    return piping.shape


def wall_volume(pipe: Pipe, wall: float) -> float:
    """What the wall of a pipe holds, m3: the outline grown by ``wall`` (m) holds P w + pi w^2 more than the
    bore, whose perimeter is P. Along a cone the wall is taken as square to the centre line; flanges and the
    mouth's rounding are not in it."""
    shape = pipe_shape(pipe)
    around = perimeters(pipe) or (np.pi * shape.diameter)
    return float(np.trapezoid(np.asarray(around) * wall + np.pi * wall**2, shape.distance))


def perimeters(pipe: Pipe) -> list[float] | None:
    """Perimeter at each point of a pipe's shape, m; None if it is round or has a step of bore."""
    cones = pipe_sections(pipe, None)
    steps = any(a.end != b.start for a, b in pairwise(cones))
    if steps or all(cone.roundness == 1.0 for cone in cones):
        return None
    of_ends = [(pi * c.start / c.roundness, pi * c.end / c.roundness) for c in cones]
    inner = [0.5 * (a[1] + b[0]) for a, b in pairwise(of_ends)]
    return [of_ends[0][0], *inner, of_ends[-1][1]]


def intake_piping(engine: Engine, cylinder: int = 1) -> Piping:
    """Runner (with its mouth's end correction) and port of a cylinder."""
    piping = Piping()
    intake = engine.of_cylinder(cylinder).intake
    piping.add_mouth(intake.runner)
    piping.add(intake.runner)
    piping.add(intake.port, lossless=intake.valve.discharge.holds_port)
    return piping


def exhaust_piping(engine: Engine, cylinder: int = 1) -> Piping:
    """Port and primary pipe of a cylinder, with the end correction of a plain mouth if it has
    one."""
    piping = Piping()
    exhaust = engine.of_cylinder(cylinder).exhaust
    piping.add(exhaust.port, lossless=exhaust.valve.discharge.holds_port)
    piping.add(exhaust.primary)
    if not engine.computes_every_cylinder or engine.exhaust.collector is None:
        piping.add_open_air()
    return piping


def gathered_piping(pipe: Any, ends: bool) -> Piping:
    """The pipe behind a junction; ends: with a plain mouth, which adds its end correction."""
    piping = Piping()
    piping.add(pipe)
    if ends:
        piping.add_open_air()
    return piping


def mouth_loss(runner: Any) -> float:
    """Loss coefficient of a runner's mouth."""
    entry = runner.entry
    if entry.loss is not None:
        return entry.loss
    bore = pipe_sections(runner, None)[0].start
    return entry_loss(
        entry.shape, bore, radius=entry.radius or 0.0, thickness=entry.wall_thickness, free=entry.free
    )
