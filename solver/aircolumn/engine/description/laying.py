"""Routes of an engine's runners in its space: laid where they have none, and checked where they have."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import said_length
from aircolumn.engine.description.space import SpaceForRunners, laid_route
from aircolumn.space.clearance import Limits, faults
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.lay import Laid, lay

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.pipes import Runner

KEPT = 256  # routes


def with_routes(engine: Engine) -> Engine:
    """The engine with its runners laid in its space, where they have no route of their own. Raises ValueError
    if none is found, or if a runner is a list of sections and so has no place in space."""
    space, runner = engine.space, engine.intake.runner
    if space is None or not space.lays:
        return engine
    return engine.with_intake(runner=runner.each(lambda r: _laid(r, space, engine.part.wall)))


def _laid(runner: Runner, space: SpaceForRunners, wall: float) -> Runner:
    if runner.route is not None:
        return runner
    if runner.sections is not None and not runner.is_drawn:
        raise ValueError("a list of sections cannot be laid in the space; give length and bore, or a route")
    if runner.lengths is not None:
        raise ValueError("lengths cannot be laid in the space; give one length for all")
    straight = runner.passage()
    c = straight.sections
    asked = _Asked(
        space.model_dump_json(),
        straight.length,
        tuple(straight.at / straight.length),
        tuple(zip(c.width, c.height, c.corner, strict=True)),
        wall,
        space,
    )
    found, why = _lay(asked)
    if found is None:
        raise ValueError(f"no route of {said_length(straight.length, 5)} was found in the space: {why}")
    return runner.changed(route=laid_route(found.corners, found.radii)).drawn()


@dataclass(frozen=True)
class _Asked:
    """What a route is asked for; told apart by all but the space itself, which ``said`` stands for."""

    said: str
    length: float
    shares: tuple[float, ...]
    sides: tuple[tuple[float, float, float], ...]
    wall: float
    space: SpaceForRunners = field(compare=False)


@lru_cache(maxsize=KEPT)
def _lay(asked: _Asked) -> tuple[Laid | None, str]:
    """Engines that differ elsewhere have the same route."""
    sections = CrossSection(*np.array(asked.sides).T)
    room = asked.space.for_runner(float(np.max(sections.bore)), asked.wall)
    return lay(room, asked.length, np.array(asked.shares), sections)


def wrong_routes(engine: Engine) -> list[str]:
    """What the engine's runners along routes of their own do not keep clear of; those that were laid do."""
    wall = engine.part.wall
    limits = Limits(wall=wall) if engine.space is None else engine.space.limits(wall)
    runner = engine.intake.runner
    parts = [runner, *(runner.by_cylinder or {}).values()]
    return [
        said
        for r in parts
        if r.route is not None and r.length is None
        for said in faults(r.passage(), limits)
    ]
