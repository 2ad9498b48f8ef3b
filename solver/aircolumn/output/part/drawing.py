"""A workshop drawing of a part on an A3 sheet, to one scale: three views of its solids, a view in which the
bends have their true shape, both ends with their flanges, tables, a title block.

Views are silhouettes of the solids that are made, one for each piece, so that flanges, bellmouth and joints
are there. Sizes are lettered where they lie in the plane of the paper: overall sizes on every view, legs and
bends on the true shape (of a centre line that is not plane: in the table alone).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Outline

from aircolumn.display_units import counted, unit
from aircolumn.engine.description.part import Flange
from aircolumn.output import SHORT
from aircolumn.output.part.tables import hole_rows, line_rows, said_size, section_rows, size_number
from aircolumn.output.plots import LOOK, with_ending
from aircolumn.output.tables import listed
from aircolumn.part.made import Made
from aircolumn.space.centre_line import CentreLine
from aircolumn.space.cross_section import CrossSection

WIDE, HIGH, FRAME = 420.0, 297.0, 10.0  # mm, of A3
INCH_MM = 25.4
INK, FAINT = "#14213d", "#7a7a7a"
FILLS = ("#e9eef2", "#f1e6dc", "#e3efe6", "#efe3ef")
#: ISO 5455, in part, and what lies between for parts of some decimetres.
SCALES = (5.0, 2.0, 1.0, 0.5, 0.4, 0.25, 0.2, 0.1, 0.05, 0.02)
ROOM = 392.0, 132.0  # mm of the sheet for the views, side by side
PLANE = 1e-3  # m: a centre line so near to a plane has a true shape
GAP = 14.0  # mm of the sheet between views and for a dimension line
CHAIN = (0, (10, 3, 2, 3))
BLANK = {"facecolor": "white", "edgecolor": "none", "pad": 0.8}


@dataclass(frozen=True)
class View:
    """What is seen along ``toward``: across and up on the paper, unit vectors."""

    name: str
    across: np.ndarray
    up: np.ndarray

    @property
    def axes(self) -> np.ndarray:
        """Rows: across, up, towards us."""
        return np.array([self.across, self.up, np.cross(self.across, self.up)])

    def flat(self, points: np.ndarray) -> np.ndarray:
        """Points (n, 3) as they lie on the paper, (n, 2)."""
        return np.asarray(points) @ self.axes[:2].T


X, Y, Z = np.eye(3)
FRONT, SIDE, ABOVE = View("along y", X, Z), View("along x", Y, Z), View("from above", X, Y)


def true_view(line: CentreLine) -> View | None:
    """The view in which a plane centre line has its true shape, its mouth on the left; None if it is
    straight, a smooth curve or not plane."""
    places = line.at(line.stations(0.005))[0]
    middle = places - places.mean(axis=0)
    _, sizes, axes = np.linalg.svd(middle, full_matrices=True)
    if line.is_smooth or not line.bends or np.abs(middle @ axes[2]).max() > PLANE or sizes[1] < PLANE:
        return None
    across = axes[0] if (places[-1] - places[0]) @ axes[0] >= 0.0 else -axes[0]
    up = axes[1] if axes[1] @ (Z + 0.1 * Y) >= 0.0 else -axes[1]
    return View("true shape of the bends", across, up)


def silhouettes(made: Made, view: View) -> list[list[np.ndarray]]:
    """Outlines (n, 2) of each piece in a view, mm."""
    turn = np.column_stack([view.axes, np.zeros(3)])
    seen = (piece.solid.transform(turn).project() for piece in made.pieces)
    return [[np.asarray(p) for p in one.to_polygons()] for one in seen]


def extent(outlines: list[list[np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest coordinates of all outlines, mm."""
    every = np.concatenate([p for piece in outlines for p in piece])
    return every.min(axis=0), every.max(axis=0)


def scale_for(sizes: list[np.ndarray], room: tuple[float, float] = ROOM) -> float:
    """The largest scale at which views of these sizes (across, up), mm, have room side by side."""
    wide, high = sum(size[0] for size in sizes), max(size[1] for size in sizes)
    free = room[0] - 2.2 * GAP * len(sizes)
    return next((s for s in SCALES if s * wide <= free and s * high <= room[1]), SCALES[-1])


def said_scale(scale: float) -> str:
    """ "1 : 2.5"."""
    return f"{scale:g} : 1" if scale > 1.0 else f"1 : {1.0 / scale:g}"


def draw_sheet(made: Made, title: str, base: Path) -> None:
    """``base``.svg and ``base``.pdf."""
    with matplotlib.rc_context(LOOK | {"axes.grid": False, "font.size": 7.5}):
        fig = Figure((WIDE / INCH_MM, HIGH / INCH_MM))
        panel = fig.add_axes((0.0, 0.0, 1.0, 1.0))
        panel.set(xlim=(0.0, WIDE), ylim=(0.0, HIGH))
        panel.set_axis_off()
        _Sheet(panel, made, title).draw()
        fig.savefig(with_ending(base, ".svg"), metadata={"Date": None})
        fig.savefig(with_ending(base, ".pdf"), metadata={"CreationDate": None})


class _Sheet:
    """The drawing while it is made; places on it in mm from its lower left corner."""

    def __init__(self, panel: Any, made: Made, title: str) -> None:
        self.panel, self.made, self.title = panel, made, title
        self.true = true_view(made.part.passage.line)
        self.views = [FRONT, SIDE, ABOVE, *([self.true] if self.true else [])]
        self.outlines = {v.name: silhouettes(made, v) for v in self.views}
        sizes = [np.subtract(*extent(self.outlines[v.name])[::-1]) for v in self.views]
        self.scale = scale_for(sizes)

    def draw(self) -> None:
        """All of it."""
        self._frame()
        part, line = self.made.part, self.made.part.passage.line
        left, top, lowest = FRAME + 1.8 * GAP, HIGH - FRAME - 1.2 * GAP, HIGH
        for view in self.views:
            wide, tall = self._view(view, left, top, sizes=view is not self.true)
            left, lowest = left + wide + 2.2 * GAP, min(lowest, top - tall)
        below = lowest - 1.6 * GAP
        at = self._table("centre line, from the mouth", line_rows(line), FRAME + 4.0, below)
        at = self._table("sections, from the mouth", section_rows(part.passage), FRAME + 4.0, at - 5.0)
        self._table("holes, from the middle of the opening", hole_rows(part.part), FRAME + 4.0, at - 5.0)
        mouth = "mouth, opening of the bellmouth" if part.lip else "mouth"
        port = part.passage.one_section(part.end)
        ends = (
            (mouth, part.mouth, part.part.plenum_flange),
            ("flange at the head", port, part.part.port_flange),
        )
        outer = [1e3 * np.array([o.width, o.height]) for o in (self._outer(h, f) for _, h, f in ends)]
        scale, place = scale_for(outer, (235.0, below - FRAME - 44.0 - 2.8 * GAP)), 178.0
        for name, hole, flange in ends:
            place += self._end(name, hole, flange, place, below, scale)
        self._title_block()

    def _outer(self, hole: CrossSection, flange: Flange | None) -> CrossSection:
        """The outside of an end."""
        if flange is None:
            return hole.grown(self.made.part.part.wall)
        return CrossSection(flange.width, flange.height, flange.corner_radius)

    def _frame(self) -> None:
        self._box(FRAME, FRAME, WIDE - 2.0 * FRAME, HIGH - 2.0 * FRAME, 1.0)

    def _box(self, x: float, y: float, wide: float, high: float, line: float) -> None:
        self.panel.add_patch(Rectangle((x, y), wide, high, fill=False, edgecolor=INK, linewidth=line))

    def _text(self, x: float, y: float, said: str, size: float = 7.5, **more: Any) -> None:
        self.panel.text(x, y, said, fontsize=size, color=INK, **{"va": "top", **more})

    def _view(self, view: View, left: float, top: float, sizes: bool = True) -> tuple[float, float]:
        """A view with its upper left corner there, and its overall sizes; returns width and height."""
        outlines = self.outlines[view.name]
        low, high = extent(outlines)
        move = np.array([left, top]) - self.scale * np.array([low[0], high[1]])
        for k, piece in enumerate(outlines):
            vertices = [self.scale * np.vstack([p, p[:1]]) + move for p in piece]
            self.panel.add_patch(
                PathPatch(
                    Outline.make_compound_path(*(Outline(v, closed=True) for v in vertices)),
                    facecolor=FILLS[k % len(FILLS)],
                    edgecolor=INK,
                    linewidth=1.0,
                )
            )
        line = self.made.part.passage.line
        if view is self.true:
            self._legs_and_bends(view, move)
        for shift in self.made.part.shifts:
            along = 1e3 * view.flat(line.at(line.stations(0.002))[0] + shift)
            self.panel.plot(*(self.scale * along + move).T, color=INK, linewidth=0.6, linestyle=CHAIN)
        wide, tall = self.scale * (high - low)
        self._text(left, top + 5.5, view.name, va="bottom")
        if sizes:
            right, bottom = left + wide, top - tall
            self._size((left, bottom), (right, bottom), (0.0, -6.0), 1e-3 * (high - low)[0])
            self._size((left, bottom), (left, top), (-6.0, 0.0), 1e-3 * (high - low)[1])
        return float(wide), float(tall)

    def _size(self, first: Any, last: Any, off: Any, value: float) -> None:
        """A dimension between two places, drawn off them; value: m."""
        a, b, off = np.array(first), np.array(last), np.array(off)
        for end in (a, b):
            self.panel.plot(*np.array([end + 0.15 * off, end + 1.2 * off]).T, color=INK, linewidth=0.4)
        arrow = {"arrowstyle": "<|-|>", "color": INK, "linewidth": 0.5, "shrinkA": 0.0, "shrinkB": 0.0}
        self.panel.annotate("", a + off, b + off, arrowprops={**arrow, "mutation_scale": 6.0})
        along = b - a
        turned = float(np.degrees(np.arctan2(along[1], along[0])))
        turned = turned - 180.0 if turned > 90.0 else turned + 180.0 if turned <= -90.0 else turned
        self.panel.text(
            *(0.5 * (a + b) + off), size_number(value), fontsize=7.5, color=INK, rotation=turned, ha="center",
            va="center", bbox=BLANK,
        )  # fmt: skip

    def _legs_and_bends(self, view: View, move: np.ndarray) -> None:
        """Lengths of straight legs, radius and angle of bends, on their true shape."""
        line = self.made.part.passage.line

        def there(point: np.ndarray) -> np.ndarray:
            return self.scale * 1e3 * view.flat(point[None])[0] + move

        for start, stop in legs_of(line):
            a, b = (there(p) for p in line.at(np.array([start, stop]))[0])
            across = np.array([-(b - a)[1], (b - a)[0]]) / float(np.linalg.norm(b - a))
            wide = 0.5 * self.scale * 1e3 * float(self.made.part.passage.one_section(start).width)
            self._size(a, b, (wide + 8.0) * across, stop - start)
        for start, bend, angle in arcs_of(line):
            centre = there(_centre(bend))
            middle = there(line.at(np.array([start + 0.5 * bend.radius * angle]))[0][0])
            arrow = {"arrowstyle": "-|>", "color": INK, "linewidth": 0.5, "shrinkA": 0.0, "shrinkB": 0.0}
            self.panel.annotate("", middle, centre, arrowprops={**arrow, "mutation_scale": 6.0})
            said = f"R {size_number(bend.radius)}, {np.degrees(angle):.1f} deg"
            x, y = 0.65 * centre + 0.35 * middle
            self._text(x, y, said, 7.0, ha="center", va="center", bbox=BLANK)

    def _end(
        self, name: str, hole: CrossSection, flange: Flange | None, left: float, top: float, scale: float
    ) -> float:
        """An end as seen along the runner, its holes numbered; returns how wide it is."""
        outer, to = self._outer(hole, flange), 1e3 * scale
        wide, tall = to * float(outer.width), to * float(outer.height)
        middle = np.array([left + GAP + 0.5 * wide, top - GAP - 0.5 * tall])
        rods = [] if flange is None else flange.bolts
        for section, line in ((outer, 1.0), (hole, 1.2)):
            self.panel.plot(*(to * _closed(section.outline(96)) + middle).T, color=INK, linewidth=line)
        for k, (x, y) in enumerate(rods, 1):
            assert flange is not None
            rod = CrossSection(flange.bolt_hole, flange.bolt_hole, 0.5 * flange.bolt_hole).outline(32)
            at = to * np.array([x, y]) + middle
            self.panel.plot(*(to * _closed(rod) + at).T, color=INK, linewidth=0.8)
            self._text(float(at[0]), float(at[1]) + 4.5, str(k), 6.5, ha="center", va="center")
        for arm in (np.array([0.5 * wide + 3.0, 0.0]), np.array([0.0, 0.5 * tall + 3.0])):
            ends = np.array([middle - arm, middle + arm])
            self.panel.plot(*ends.T, color=FAINT, linewidth=0.5, linestyle=CHAIN)
        low, right = middle - 0.5 * np.array([wide, tall]), middle[0] + 0.5 * wide
        self._size(low, (right, low[1]), (0.0, -5.0), float(outer.width))
        self._size(low, (low[0], low[1] + tall), (-5.0, 0.0), float(outer.height))
        said = [f"{name}, {said_scale(scale)}", _said_section(hole)]
        if hole is self.made.part.mouth and self.made.part.lip:
            said.append(f"bellmouth, radius {said_size(self.made.part.lip)}")
        if flange is not None:
            said.append(f"plate {said_size(flange.thickness)} thick")
            said.append(f"its corners R {said_size(flange.corner_radius)}")
        self._text(left + 2.0, float(low[1]) - 9.0, "\n".join(said))
        return max(wide + 1.5 * GAP, 62.0)

    def _table(self, name: str, rows: list[list[str]], left: float, top: float) -> float:
        """Rows of text, the first of headings; returns where it ends. Nothing where there are none."""
        if len(rows) < 2:
            return top
        self._text(left, top, name, 8.5)
        widths = [max(len(row[k]) for row in rows) * 1.75 + 3.0 for k in range(len(rows[0]))]
        y = top - 5.0
        for n, row in enumerate(rows):
            x = left
            for cell, width in zip(row, widths, strict=True):
                self._text(x + width - 1.5, y - 0.6, cell, 7.0, ha="right")
                self._box(x, y - 4.0, width, 4.0, 0.8 if n == 0 else 0.3)
                x += width
            y -= 4.0
        return y

    def _title_block(self) -> None:
        part, made = self.made.part, self.made
        left, low, wide, high = WIDE - FRAME - 138.0, FRAME, 138.0, 44.0
        self._box(left, low, wide, high, 1.0)
        more = f", {len(part.shifts)} runners" if len(part.shifts) > 1 else ""
        joints = {"spigot": "spigot and socket, bonded", "o_ring": "spigot with O-ring"}
        joint = joints.get(part.part.joint.kind, "bolted flanges")
        cuts = listed([size_number(piece.stop) for piece in made.pieces[:-1]]) if len(made.pieces) > 1 else ""
        joined = f", joined by {joint} at {cuts} along the centre line" if cuts else ""
        along = f"{said_size(part.end)} along the centre line"
        rows = (
            (self.title, 11.0),
            (f"{made.kind}{more}; {along}; wall {said_size(part.part.wall)}", 8.0),
            (f"{counted(len(made.pieces), 'piece')}{joined}", 8.0),
            (f"scale {said_scale(self.scale)} on A3; sizes in {unit('length').name}, as computed: without the"
             " allowance for shrinkage", 7.5),
            ("x along the crankshaft, z up. Tolerances, material, finish: to be agreed with the maker", 7.5),
            (f"A starting point, not a released part. {SHORT}", 7.5),
        )  # fmt: skip
        y = low + high - 2.5
        for said, size in rows:
            self._text(left + 3.0, y, said, size)
            y -= 0.55 * size + 2.3


def legs_of(line: CentreLine) -> list[tuple[float, float]]:
    """From where to where the straight legs of a centre line go, m along it."""
    edges = [0.0, *line.breaks.tolist(), line.length]
    pieces = [(a, b) for a, b in pairwise(sorted(set(edges))) if b - a > PLANE]
    middle = line.at(np.array([0.5 * (a + b) for a, b in pieces]))[2]
    return [piece for piece, bent in zip(pieces, middle, strict=True) if np.linalg.norm(bent) < 1e-9]


def arcs_of(line: CentreLine) -> list[tuple[float, Any, float]]:
    """(where it begins, m along the line; its first bend; its angle, rad) of each arc: bends about one centre
    that follow each other are one."""
    arcs: list[tuple[float, Any, float]] = []
    for start, bend in line.bends:
        if arcs and np.linalg.norm(_centre(arcs[-1][1]) - _centre(bend)) < PLANE * bend.radius:
            first, one, angle = arcs[-1]
            arcs[-1] = first, one, angle + bend.angle
        else:
            arcs.append((start, bend, bend.angle))
    return arcs


def _centre(bend: Any) -> np.ndarray:
    return bend.start + bend.radius * bend.inward


def _closed(outline: np.ndarray) -> np.ndarray:
    return np.vstack([outline, outline[:1]])


def _said_section(section: CrossSection) -> str:
    if section.is_round:
        return f"bore {said_size(section.width)}"
    corner = f", corners R {said_size(section.corner)}"
    return f"{size_number(section.width)} x {said_size(section.height)}{corner}"
