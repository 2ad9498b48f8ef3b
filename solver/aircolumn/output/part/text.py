"""What is said of a part, and of a shape that was read from a mesh."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output.part.tables import bend_rows, said_size, size_number
from aircolumn.output.tables import grid
from aircolumn.part.made import BANK, MANIFOLD, Made
from aircolumn.part.pieces import extents
from aircolumn.space.cross_section import CrossSection

if TYPE_CHECKING:
    from aircolumn.part.read_back import Schedule

CAUTION = (
    "A mesh is a starting point, not a released part. Before anything runs on an engine: check strength,"
    " sealing and fit; use a material that stands the heat under the bonnet, fuel and its vapour, vacuum and"
    " a backfire; keep printed parts away from the exhaust. A piece that comes loose is drawn into the"
    " engine."
)
WHAT = {BANK: "bank of {n} runners", MANIFOLD: "manifold of {n} runners with its plenum"}


def part_text(made: Made, name: str) -> str:
    """Length, bends, volumes, pieces and the caution."""
    size, volume, part = unit("length"), unit("volume"), made.part
    line = part.passage.line
    what = WHAT.get(made.kind, "runner").format(n=len(part.shifts))
    lines = [
        f"{what} '{name}': {said_size(part.end)} along its centre line, wall {said_size(part.part.wall)}",
        f"from {_said(part.passage.one_section(0.0))} at its mouth"
        f" to {_said(part.passage.one_section(part.end))} at the head",
    ]
    if part.lip:
        lines.append(f"plus a bellmouth, radius {said_size(part.lip)}")
    rows = bend_rows(line)
    if len(rows) > 2:
        lines += ["", grid(rows[0], rows[1:]), ""]
    elif line.is_smooth:
        where, radius = line.tightest()
        lines.append(f"a smooth curve, bent most at {size.said(where)}: radius {said_size(radius)}")
    weighs = "" if made.mass is None else f", {unit('part mass').said(made.mass)}"
    difference = 100.0 * (made.air_volume / made.computed_volume - 1.0)
    lines.append(
        f"air of one runner: {volume.said(made.air_volume, 1)} in the mesh,"
        f" {volume.said(made.computed_volume, 1)} as computed ({difference:+z.2f} %);"
        f" material {volume.said(made.material, 0)}{weighs}"
    )
    lines += [*_pieces(made), *([made.note] if made.note else [])]
    if part.part.allowance != 1.0:
        lines.append(f"all sizes in the files are {part.part.allowance:g} times as large (allowance)")
    return "\n".join([*lines, "", CAUTION])


def _pieces(made: Made) -> list[str]:
    size, part = unit("length"), made.part.part
    sides = [" x ".join(size.number(1e-3 * v) for v in np.sort(extents(p.solid))[::-1]) for p in made.pieces]
    if len(sides) == 1:
        return [f"one piece, {sides[0]} {size.name}"]
    joint = {"spigot": "a spigot in a socket, to be bonded", "o_ring": "a spigot with an O-ring in a socket"}
    said = joint.get(part.joint.kind, "bolted flanges")
    cuts = ", ".join(size.number(piece.stop) for piece in made.pieces[:-1])
    bed = " x ".join(size.number(b) for b in part.bed or [])
    return [
        f"{len(sides)} pieces for a bed of {bed} {size.name}, joined at {cuts} {size.name} from the mouth by"
        f" {said}:",
        *(f"  piece {k}: {side} {size.name}" for k, side in enumerate(sides, 1)),
    ]


def _said(section: CrossSection) -> str:
    if section.is_round:
        return said_size(section.width)
    return f"{size_number(section.width)} x {said_size(section.height)}"


def schedule_text(read: Schedule, file: str, schedule: str) -> str:
    """What was read from a mesh, and how an engine file names it."""
    area, volume = unit("area"), unit("volume")
    held = 100.0 * (read.held / read.volume - 1.0)
    radius = read.tightest()
    bent = "straight" if radius > 20.0 else f"bent to a radius of {said_size(radius)} at its tightest"
    lines = [
        f"{file}: {said_size(read.line.length)} along its centre line, {bent}",
        f"area {area.said(read.area[0], 1)} at its beginning, {area.said(read.area[-1], 1)} at its end, least"
        f" {area.said(read.area.min(), 1)}, greatest {area.said(read.area.max(), 1)}",
        f"volume {volume.said(read.volume, 1)} in the mesh, {volume.said(read.held, 1)} between the cuts"
        f" ({held:+z.2f} %)",
    ]
    if abs(held) > 1.0:
        lines.append(
            "doubtful: the cuts do not hold what the mesh holds; it has a branch or a pocket beside its"
            " centre line, or is bent too tightly"
        )
    lines.append(
        f"in an engine file, in place of length and bore: 'area_schedule: {schedule}'. That has no bends; for"
        " their loss give route and sizes instead"
    )
    return "\n".join(lines)
