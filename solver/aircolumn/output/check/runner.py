"""What ``check`` says of a runner: length, rule of thumb, place in space, sections that are not round."""

from __future__ import annotations

from math import pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import said_bore, said_place, unit
from aircolumn.engine.model.breathing import sound_of
from aircolumn.engine.model.piping import intake_piping, pipe_sections
from aircolumn.engine.rules_of_thumb import NECK_K, mean_neck, neck_and_volume_speed
from aircolumn.flow.duct.division import sudden_changes
from aircolumn.space.bend_table import bend_table

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.model.geometry import Geometry
    from aircolumn.flow.duct.geometry import Shape


def route_lines(engine: Engine) -> list[str]:
    """Bends of the runner's route and their loss, how it was found, and its hydraulic diameter."""
    runner, size = engine.intake.runner, unit("length")
    if not runner.is_drawn:
        return []
    lines = []
    if runner.route is not None:
        line = runner.route.line()
        bends = [row for row in bend_table(line) if row.angle is not None]
        loss = sum(cone.bend for cone in pipe_sections(runner, None))
        said = ", ".join(f"{b.angle:.0f} deg at {size.said(b.radius or 0.0)}" for b in bends)
        if line.is_smooth:
            said = f"a smooth curve, bent to {size.said(line.tightest()[1])} at its tightest"
        laid = "laid in the space" if runner.length is not None else "along its route"
        lines.append(f"  {laid}: {said or 'straight'}; bends lose {loss:.2f} of the dynamic head")
    passage = runner.passage()
    if not passage.is_round:
        s = np.linspace(0.0, passage.length, 50)
        section = passage.section(s)
        hydraulic = 4.0 * section.area / section.perimeter
        lines.append(
            f"  not round: hydraulic diameter {size.said(hydraulic.min(), 1)} to"
            f" {size.said(hydraulic.max(), 1)}"
            f" for bores of the same area of {size.said(section.bore.min(), 1)} to"
            f" {size.said(section.bore.max(), 1)}"
        )
    return lines


def _titled(name: str) -> str:
    """A candidate by name; the only one of a file is called runner."""
    return name if name == "runner" else f"runner {name}"


def runner_line(name: str, engine: Engine, sizes: Geometry) -> str:
    """Its length, and where a rule of thumb has it tuned."""
    shape = intake_piping(engine).shape
    sound = sound_of(engine)
    inverse = mean_neck(shape)
    speeds = [
        neck_and_volume_speed(1.0, inverse, sizes.swept, engine.block.compression_ratio, sound, k)
        for k in reversed(NECK_K)
    ]
    size = unit("length")
    lengths = engine.intake.runner.lengths or [engine.intake.runner.total_length]
    stated, whose = size.said(lengths[0]), "with"
    if max(lengths) > min(lengths):
        stated = f"{size.number(min(lengths))} to {size.said(max(lengths))}"
        whose = "that of cylinder 1 with"
    return (
        f"{_titled(name):26s}{stated}, {whose} port and mouth {size.said(shape.length)};"
        " rule of thumb (Helmholtz, neck and volume): tuned at"
        f" {speeds[0]:.0f} to {speeds[1]:.0f} rpm"
    )


def change_lines(shape: Shape, before: float = 0.0) -> list[str]:
    """The sudden changes of bore in a pipe run and their losses; before: air before it, m."""
    return [
        f"  {said_place(c.position - before)} from its beginning the bore goes from"
        f" {_bore(c.before)} to {_bore(c.after)} in one step: narrowing loses"
        f" {max(c.loss_forward, c.loss_back):.2f} of the head in the narrow bore (Crane TP-410),"
        f" widening {(1.0 - c.throat / max(c.before, c.after)) ** 2:.2f} (Borda-Carnot)"
        for c in sudden_changes(shape)
    ]


def _bore(area: float) -> str:
    """Bore of a round area, m2, in words."""
    return said_bore(sqrt(4.0 * area / pi))
