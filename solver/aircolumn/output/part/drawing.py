"""A dimensioned drawing of a runner: three views of its outline and centre line, both ends with their
flanges, legs and bends, corners and sections as tables."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from aircolumn.display_units import unit
from aircolumn.engine.description.part import Flange
from aircolumn.output import SHORT
from aircolumn.output.part.files import corners_of
from aircolumn.output.part.tables import bend_rows, corner_rows, said_size, section_rows, size_number
from aircolumn.output.plots import LOOK, with_ending
from aircolumn.part.made import Made
from aircolumn.part.runner import rings_between
from aircolumn.space.cross_section import CrossSection

SHEET = (16.5, 11.7)  # in: A3
INK, FAINT, FILL = "#14213d", "#7a7a7a", "#e9eef2"
VIEWS = (("view along x", 1, 2), ("view along y", 0, 2), ("view from above", 0, 1))
AXES = "xyz"


def draw_sheet(made: Made, title: str, base: Path) -> None:
    """``base``.svg and ``base``.pdf."""
    with matplotlib.rc_context(LOOK | {"axes.grid": False, "font.size": 9}):
        fig = Figure(SHEET, layout="constrained")
        grid = fig.add_gridspec(3, 3, height_ratios=[2.2, 1.2, 1.5])
        for k, view in enumerate(VIEWS):
            _view(fig.add_subplot(grid[0, k]), made, view)
        part = made.part
        mouth = "opening of the bellmouth" if part.lip else "mouth"
        _end(fig.add_subplot(grid[1, 0]), part.mouth, part.part.plenum_flange, mouth, part.part.wall)
        port = part.passage.one_section(part.end)
        _end(fig.add_subplot(grid[1, 1]), port, part.part.port_flange, "flange at the head", part.part.wall)
        _table(fig.add_subplot(grid[1, 2]), "legs and bends, from the mouth", bend_rows(part.passage.line))
        _table(fig.add_subplot(grid[2, :2]), "sections, from the mouth", section_rows(part.passage))
        _table(fig.add_subplot(grid[2, 2]), "corners of the centre line", corner_rows(part.passage.line))
        wall = f"wall {said_size(part.part.wall)}"
        fig.suptitle(f"{title}: {said_size(part.end)} along the centre line, {wall}", fontsize=12)
        note = "Sizes as computed, without the allowance. A starting point, not a released part."
        fig.supxlabel(f"{note} {SHORT}", fontsize=8.5, color="#444444")
        fig.savefig(with_ending(base, ".svg"), metadata={"Date": None})
        fig.savefig(with_ending(base, ".pdf"), metadata={"CreationDate": None})


def _view(panel: Any, made: Made, view: tuple[str, int, int]) -> None:
    """Outside and centre line, with overall sizes and the places of bends."""
    name, a, b = view
    size, part = unit("length"), made.part
    rim = size.of(1e-3 * rings_between(part, part.begin, part.end))
    for edge, width in ((INK, 2.0), (FILL, 0.0)):  # what is drawn over the edges leaves the outline
        for pair in pairwise(rim):
            flat = np.concatenate(pair)[:, [a, b]]
            panel.add_patch(Polygon(_hull(flat), facecolor=FILL, edgecolor=edge, linewidth=width))
    for ring in (rim[0], rim[-1]):
        panel.add_patch(Polygon(ring[:, [a, b]], fill=False, edgecolor=INK, linewidth=1.2))
    line = size.of(part.passage.line.at(part.passage.line.stations(0.002))[0])
    panel.plot(line[:, a], line[:, b], color=INK, linewidth=1.0, linestyle=(0, (10, 3, 2, 3)))
    for place, radius in corners_of(part.passage.line)[1:-1]:
        x, y = size.of(place)[[a, b]]
        panel.annotate(
            f"R {size_number(radius)}", (x, y), fontsize=8, color=INK, ha="center", va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.8},
        )  # fmt: skip
    low, high = rim.reshape(-1, 3).min(axis=0), rim.reshape(-1, 3).max(axis=0)
    _span(panel, (low[a], high[a]), low[b], horizontal=True)
    _span(panel, (low[b], high[b]), low[a], horizontal=False)
    panel.set_aspect("equal")
    panel.set(title=name, xlabel=f"{AXES[a]}, {size.name}", ylabel=f"{AXES[b]}, {size.name}")
    panel.margins(0.12)


def _hull(points: np.ndarray) -> np.ndarray:
    from scipy.spatial import ConvexHull, QhullError

    try:
        return points[ConvexHull(points).vertices]
    except QhullError:  # seen along the ring's plane: a line
        return points


def _span(panel: Any, ends: tuple[float, float], beside: float, horizontal: bool) -> None:
    """A dimension line with its figure."""
    gap = 0.06 * (ends[1] - ends[0]) + (8.0 if unit("length").name == "mm" else 0.3)
    at = beside - gap
    first, last = ((ends[0], at), (ends[1], at)) if horizontal else ((at, ends[0]), (at, ends[1]))
    arrow = {"arrowstyle": "<->", "color": INK, "linewidth": 0.8, "shrinkA": 0.0, "shrinkB": 0.0}
    panel.annotate("", first, last, arrowprops=arrow)
    middle = 0.5 * (ends[0] + ends[1])
    place = (middle, at) if horizontal else (at, middle)
    decimals = 1 if unit("length").name == "mm" else 2
    panel.text(
        *place,
        f"{ends[1] - ends[0]:.{decimals}f}",
        rotation=0 if horizontal else 90,
        ha="center",
        va="center",
        fontsize=9,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
    )
    panel.plot(*zip(first, last, strict=True), alpha=0.0)


def _end(panel: Any, hole: CrossSection, flange: Flange | None, name: str, wall: float) -> None:
    """An end as seen along the runner."""
    size = unit("length")
    panel.add_patch(Polygon(size.of(hole.outline(96)), fill=False, edgecolor=INK, linewidth=1.4))
    outer = hole.grown(wall)
    said = [_said_section(hole)]
    if flange is not None:
        outer = CrossSection(flange.width, flange.height, flange.corner_radius)
        said.append(f"plate {size_number(flange.width)} x {said_size(flange.height)},"
                    f" {said_size(flange.thickness)} thick")  # fmt: skip
        for x, y in flange.bolts:
            rod = CrossSection(flange.bolt_hole, flange.bolt_hole, 0.5 * flange.bolt_hole).outline(32)
            panel.add_patch(
                Polygon(size.of(rod + np.array([x, y])), fill=False, edgecolor=INK, linewidth=0.9)
            )
            panel.annotate(
                f"({size_number(x)}, {size_number(y)})", size.of(np.array([x, y])), fontsize=7,
                xytext=(0, 7), textcoords="offset points", ha="center",
            )  # fmt: skip
        if flange.bolts:
            said.append(f"{len(flange.bolts)} holes of {said_size(flange.bolt_hole)}")
    panel.add_patch(Polygon(size.of(outer.outline(96)), fill=False, edgecolor=FAINT, linewidth=1.0))
    panel.plot([0.0], [0.0], marker="+", markersize=12, color=FAINT)
    panel.set_aspect("equal")
    panel.margins(0.15)
    panel.set_title(name)
    panel.set_xlabel("; ".join(said))


def _said_section(section: CrossSection) -> str:
    if section.is_round:
        return f"bore {said_size(section.width)}"
    corner = f", corners R {said_size(section.corner)}"
    return f"{size_number(section.width)} x {said_size(section.height)}{corner}"


def _table(panel: Any, name: str, rows: list[list[str]]) -> None:
    """Rows of text, the first of headings."""
    panel.set_axis_off()
    panel.set_title(name)
    if len(rows) < 2:
        panel.text(0.5, 0.6, "a smooth curve: see its file of points", ha="center", color="#444444")
        return
    table = panel.table(cellText=rows[1:], colLabels=rows[0], loc="upper center", cellLoc="right")
    table.auto_set_font_size(False)
    table.set_fontsize(8)
    for cell in table.get_celld().values():
        cell.set_linewidth(0.4)
