"""Solids of a runner, alone or as a bank: what is added (walls, flanges) and what is cut out (air, bolts)."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import said_length, said_point
from aircolumn.engine.description.base import required
from aircolumn.engine.description.part import Flange, Part
from aircolumn.errors import RequestError
from aircolumn.part.sweep import MM, drilled, prism, rings, skinned, tube, tube_rings
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Passage

if TYPE_CHECKING:
    from manifold3d import Manifold

    from aircolumn.engine.description.engine_file import Engine

LIP_RINGS = 10
THROUGH = 1e-3  # m that a cut goes beyond what it is cut from, so that no faces coincide


@dataclass
class Solids:
    """What is added and what is then cut out."""

    adds: list[Manifold] = field(default_factory=list)
    cuts: list[Manifold] = field(default_factory=list)

    def whole(self) -> Manifold:
        """One solid."""
        from manifold3d import Manifold, OpType

        body = Manifold.batch_boolean(self.adds, OpType.Add)
        return body if not self.cuts else body - Manifold.batch_boolean(self.cuts, OpType.Add)


@dataclass(frozen=True, eq=False)
class RunnerPart:
    """What is made: one runner, or a bank of them.

    passage: its inside; lip: radius of the bellmouth in front of it, m, 0 for none; shifts: (n, 3), m, of
    each runner of a bank from the first.
    """

    passage: Passage
    part: Part
    lip: float
    shifts: np.ndarray

    @property
    def begin(self) -> float:
        """Distance of the mouth's plane, m: the bellmouth stands in front of the runner."""
        return -self.lip

    @property
    def end(self) -> float:
        """Distance of the flange at the head, m."""
        return self.passage.length

    def solid(self) -> Manifold:
        """In one piece."""
        return self.between(self.begin, self.end).whole()

    def between(self, start: float, stop: float) -> Solids:
        """Walls, flanges and air from one distance to another, m, of all its runners."""
        one, plates = Solids(), []
        wall = self.part.wall
        one.adds.append(tube(self.passage, max(start, 0.0), stop, wall))
        one.cuts.append(tube(self.passage, max(start, 0.0) - THROUGH, stop + THROUGH))
        if start < 0.0:
            one.adds.append(self._flared(wall))
            one.cuts.append(self._flared(0.0))
        if start == self.begin and self.part.plenum_flange is not None:
            plates.append((self.part.plenum_flange, start, 1.0))
        if stop == self.end and self.part.port_flange is not None:
            plates.append((self.part.port_flange, stop, -1.0))
        return self._copied(one, plates)

    def air(self) -> Manifold:
        """The air column that is computed, of one runner, without the bellmouth."""
        return tube(self.passage, 0.0, self.end)

    def flared_air(self) -> Manifold:
        """The air in the bellmouth of one runner."""
        return self._flared(0.0)

    @cached_property
    def mouth(self) -> CrossSection:
        """Opening in the plane of the mouth, m."""
        return self.passage.one_section(0.0, self.lip)

    def _flared(self, grown: float) -> Manifold:
        """The bellmouth: a quarter circle of its radius, in front of the runner."""
        shares = np.sin(np.linspace(0.0, 0.5 * np.pi, LIP_RINGS))[::-1]  # 1 in the plane of the mouth
        s = -self.lip * shares
        sections = [
            self.passage.one_section(0.0, self.lip * (1.0 - sqrt(1.0 - v * v)) + grown) for v in shares
        ]
        if grown == 0.0:  # cut through the plane of the mouth
            s, sections = np.concatenate([[s[0] - THROUGH], s]), [sections[0], *sections]
        s, sections = np.append(s, THROUGH), [*sections, sections[-1]]
        return skinned(rings(self.passage.frames(s), sections))

    def _copied(self, one: Solids, plates: list[tuple[Flange, float, float]]) -> Solids:
        """For all runners; their flanges are one plate."""
        from manifold3d import Manifold

        found = Solids(copied(one.adds, self.shifts), copied(one.cuts, self.shifts))
        for flange, at, way in plates:
            self._check_holds(flange, at)
            plate = CrossSection(flange.width, flange.height, flange.corner_radius)
            body = prism(self.passage, at, at + way * flange.thickness, plate)
            found.adds.append(Manifold.batch_hull(copied([body], self.shifts)))
            holes = drilled(self.passage, at, flange.thickness, flange.bolts, flange.bolt_hole)
            found.cuts += copied(holes, self.shifts)
        return found

    def _check_holds(self, flange: Flange, at: float) -> None:
        """A flange must be larger than what goes through it. Raises RequestError."""
        hole = self.mouth if at < self.end else self.passage.one_section(self.end)
        which = "plenum_flange" if at < self.end else "port_flange"
        for name in ("width", "height"):
            own, needs = getattr(flange, name), getattr(hole, name) + 2.0 * self.part.wall
            if own < needs:
                raise RequestError(
                    f"part.{which}: its {name} of {said_length(own, 6)} is less than the opening there and"
                    f" its walls, {said_length(needs)}"
                )
        for place in flange.bolts:
            if hole.away(*place) < 0.5 * flange.bolt_hole:
                raise RequestError(f"part.{which}: the bolt at {said_point(place)} cuts into the bore")


def copied(solids: list[Manifold], shifts: np.ndarray) -> list[Manifold]:
    """Each solid once for every shift (n, 3), m."""
    return [s.translate((MM * shift).tolist()) for s in solids for shift in shifts]


def runner_part(engine: Engine, count: int = 1) -> RunnerPart:
    """The runner of an engine (one cylinder's), or a bank of ``count``. Raises RequestError if it has no
    shape in space, or no spacing for a bank."""
    runner = engine.intake.runner
    try:
        passage = runner.passage()
    except ValueError as error:
        raise RequestError(f"intake.runner: {error}") from None
    entry = runner.entry
    lip = required(entry.radius) if entry.shape == "bellmouth" else 0.0
    return RunnerPart(passage, engine.part, lip, _shifts(engine, count))


def _shifts(engine: Engine, count: int) -> np.ndarray:
    log = engine.intake.log
    if count > 1 and log is not None:
        places = np.array(log.runners_at[:count])
        return np.outer(places - places[0], [1.0, 0.0, 0.0])
    spacing = engine.space.spacing if engine.space is not None else None
    if count > 1 and spacing is None:
        raise RequestError("a bank needs space.spacing: how far apart its runners are")
    return np.outer(np.arange(count), [spacing or 0.0, 0.0, 0.0])


def rings_between(part: RunnerPart, start: float, stop: float) -> np.ndarray:
    """Points of the outside of one runner, mm (n, m, 3): for views and sizes."""
    return tube_rings(part.passage, start, stop, part.part.wall)
