"""The pipes of an engine file as ducts: shapes, and wall data by distance."""

from dataclasses import dataclass
from functools import reduce

import numpy as np

from aircolumn.engine.description.models import Engine
from aircolumn.engine.description.parts import given
from aircolumn.flow.duct.geometry import Shape, straight
from aircolumn.flow.ends.openings import end_correction, entry_loss
from aircolumn.flow.network.declared import Wall


def bend_loss(angle: float, radius: float, bore: float) -> float:
    """Loss coefficient of a smooth bend, K = (0.131 + 1.847 (D / 2R)^3.5) angle / 90.

    Weisbach's formula as given in hydraulics handbooks, from memory; angle in degrees, centre-line
    radius and bore in m.
    """
    return (0.131 + 1.847 * (0.5 * bore / radius) ** 3.5) * angle / 90.0


@dataclass(frozen=True)
class Piece:
    """A straight or conical piece of a pipe run and its wall (SI; bend: loss per metre)."""

    length: float
    start: float
    end: float
    wall: float
    roughness: float
    friction: float
    heat: float
    bend: float
    outside: float = 300.0
    coefficient: float = 0.0


def _air(length: float, bore: float) -> Piece:
    """A piece of open air: no wall there."""
    return Piece(length, bore, bore, 300.0, 0.0, 0.0, 0.0, 0.0)


class Piping:
    """Pipes one behind the other as one duct: its shape, and its wall data by distance."""

    def __init__(self):
        self.pieces: list[Piece] = []
        self.open_air_before = 0.0  # m, of the shape's length

    def add(self, pipe, lossless: bool = False):
        """Append a pipe of the engine file; an open first bore continues the bore before it.

        lossless: its friction and bends are counted elsewhere.
        """
        before = self.pieces[-1].end if self.pieces else None
        around = pipe.surroundings
        outside, coefficient = (around.temperature, around.coefficient) if around else (300.0, 0.0)
        wall = outside if pipe.wall_temperature is None else pipe.wall_temperature
        for length, start, end, bend in pipe_sections(pipe, before):
            friction, bends = (0.0, 0.0) if lossless else (pipe.friction_factor, bend / length)
            self.pieces.append(
                Piece(
                    length,
                    start,
                    end,
                    wall,
                    pipe.roughness,
                    friction,
                    pipe.heat_factor,
                    bends,
                    outside,
                    coefficient,
                )
            )

    def add_mouth(self, pipe):
        """Begin with the air that moves in front of a pipe with an entry."""
        entry, bore = pipe.entry, given(pipe.first_bore)
        length = end_correction(entry.shape, bore, entry.free) if entry.end_correction else 0.0
        if length > 0.0:
            self.pieces.append(_air(length, bore))
            self.open_air_before += length

    def add_open_air(self):
        """Lengthen the end by the air that moves with the column behind a plain mouth."""
        bore = self.pieces[-1].end
        self.pieces.append(_air(end_correction("plain", bore), bore))

    @property
    def shape(self) -> Shape:
        """Bore against distance."""
        first, *others = (straight(p.length, p.start, p.end) for p in self.pieces)
        return reduce(Shape.then, others, first)

    def wall(self) -> Wall:
        """The wall along it."""
        return Wall(
            **{
                ("temperature" if name == "wall" else name): self.along(name)
                for name in ("friction", "heat", "roughness", "wall", "bend", "outside", "coefficient")
            }
        )

    def along(self, name: str):
        """Function of distance (m, array) giving the field ``name`` of the piece there."""
        edges = np.cumsum([p.length for p in self.pieces])
        values = np.array([getattr(p, name) for p in self.pieces])

        def at(x):
            return values[np.minimum(np.searchsorted(edges, x), len(edges) - 1)]

        return at


def pipe_sections(pipe, bore_before: float | None):
    """(length, first bore, last bore, bend loss) of each section; an open first bore takes
    ``bore_before``."""
    if pipe.sections is None:
        start = bore_before if pipe.bore.start is None else pipe.bore.start
        return [(pipe.length, start, pipe.bore.end, 0.0)]
    rows, before = [], bore_before
    for s in pipe.sections:
        start = given(before) if s.bore.start is None else s.bore.start
        loss = bend_loss(s.bend_angle, given(s.bend_radius), start) if s.bend_angle else 0.0
        rows.append((s.length, start, s.bore.end, loss))
        before = s.bore.end
    return rows


def pipe_shape(pipe) -> Shape:
    """Shape of one pipe of the engine file, without what stands before and behind it."""
    piping = Piping()
    piping.add(pipe)
    return piping.shape


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
    if not engine.whole or engine.exhaust.collector is None:
        piping.add_open_air()
    return piping


def gathered_piping(pipe, ends: bool) -> Piping:
    """The pipe behind a junction; ends: with a plain mouth, which adds its end correction."""
    piping = Piping()
    piping.add(pipe)
    if ends:
        piping.add_open_air()
    return piping


def mouth_loss(runner) -> float:
    """Loss coefficient of a runner's mouth."""
    entry = runner.entry
    if entry.loss is not None:
        return entry.loss
    bore = pipe_sections(runner, None)[0][1]
    return entry_loss(
        entry.shape, bore, radius=entry.radius or 0.0, thickness=entry.wall_thickness, free=entry.free
    )
