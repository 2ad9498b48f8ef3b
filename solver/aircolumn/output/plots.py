"""What all pictures share. Colour-blind-safe, told apart in grey print by line style and marker."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from aircolumn.output import STYLES

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from aircolumn.curves.interest import Range

#: from a label to the end of its line
LEADER: Any = {
    "arrowstyle": "-",
    "linewidth": 0.6,
    "alpha": 0.6,
    "relpos": (0.0, 0.5),
    "shrinkA": 1.0,
    "shrinkB": 4.0,
}


SHADE, SHADES = "#f0ead6", 20  # of the range that matters; steps of a weight that changes
STEPS = 12  # drawn between two points


SPEED = "engine speed, rpm"
SVG_DPI = 72.0  # points, which is what SVG counts in


LOOK: Any = {
    "figure.figsize": (8.0, 8.4),
    "figure.dpi": 110,
    "savefig.dpi": 150,
    "font.size": 10,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#d9d9d9",
    "grid.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 1.8,
    "lines.markersize": 4.5,
    "svg.hashsalt": "aircolumn",
    "text.parse_math": False,  # a dollar sign in a title or a name is one
}


@contextmanager
def figure(panels: int, columns: int = 1, **kwargs: Any) -> Iterator[tuple[Figure, Any]]:
    """A figure of stacked panels in the project's look, drawn without a window; pyplot is left alone for
    those who use it in the same process."""
    with matplotlib.rc_context(LOOK):
        fig = Figure(kwargs.pop("figsize", None), layout="constrained")
        FigureCanvasAgg(fig)
        yield fig, fig.subplots(panels, columns, **{"sharex": True, **kwargs})


def save(fig: Figure, base: Path) -> list:
    """Write ``base``.png and ``base``.svg; returns the paths.

    ``fig.savefig`` would draw each of them twice, once for a layout that is found while drawing anyway."""
    paths = [with_ending(base, ".png"), with_ending(base, ".svg")]
    fig.dpi = matplotlib.rcParams["savefig.dpi"]
    FigureCanvasAgg(fig).print_png(paths[0])
    fig.set_layout_engine("none")  # laid out once is enough
    fig.dpi = SVG_DPI
    with paths[1].open("w", encoding="utf-8") as file:
        FigureCanvasSVG(fig).print_svg(file, metadata={"Date": None})
    return paths


def with_ending(base: Path, ending: str) -> Path:
    """``base`` with an ending; dots in its name are of the name."""
    return base.with_name(base.name + ending)


def contours(fig: Figure, panel: Any, x: Any, y: Any, values: Any, label: str) -> None:
    """Filled contours over x and y with their own levels named on the lines, by a light outline
    that reads on any of the colours, well inside the panel."""
    values = np.ma.masked_invalid(values)
    filled: Any = panel.contourf(x, y, values, levels=16, cmap="cividis")
    fig.colorbar(filled, ax=panel, label=label)
    panel.grid(visible=False)
    lines = panel.contour(x, y, values, levels=filled.levels[::2], colors="black", linewidths=0.5)
    (left, right), (low, high) = ((min(v), max(v)) for v in (np.asarray(x), np.asarray(y)))
    inside = []
    for path in lines.get_paths():
        for piece in path.to_polygons(closed_only=False):
            share = (piece - (left, low)) / (right - left, high - low)
            away = np.min(np.minimum(share, 1.0 - share), axis=1)
            if np.ptp(share, axis=0).max() > 0.15 and away.max() > 0.06:
                inside.append(tuple(piece[int(np.argmax(away))]))
    digits = 0 if np.min(np.diff(filled.levels)) >= 1.0 else 1
    for text in panel.clabel(lines, fontsize=8, fmt=f"%.{digits}f", manual=inside or False):
        text.set_rotation(0.0)  # upright: 98 stood on its head reads as 86
        text.set_path_effects([withStroke(linewidth=2, foreground="white")])


def line_style(k: int) -> dict:
    """Style of line ``k``: colour, dash and marker together repeat after 25 lines."""
    if k < len(STYLES):
        return STYLES[k]
    turn, n = divmod(k, len(STYLES))
    dash = STYLES[(n + turn) % len(STYLES)]["linestyle"]
    mark = STYLES[(n + 2 * turn) % len(STYLES)]["marker"]
    return {"color": STYLES[n]["color"], "linestyle": dash, "marker": mark, "fillstyle": "none"}


def label_ends(panel: Axes, lines: Sequence[tuple[np.ndarray, np.ndarray, str, str]]) -> None:
    """Texts to the right of the panel, each beside the end of its line, moved apart where they
    would overlap. lines: (x, y, text, colour), x and y of a whole line; one without a known point
    gets no text."""
    labels = []
    for x, y, text, colour in lines:
        known = np.flatnonzero(np.isfinite(y))
        if known.size:
            labels.append(((x[known[-1]], y[known[-1]]), text, colour))
    if not labels:
        return
    low, high = panel.get_ylim()
    rows = 1 + max(text.count("\n") for _, text, _ in labels)
    size = 8.5 if len(labels) * rows <= 18 else 7.0
    need = 1.25 * size * rows / 72.0 / (0.8 * panel.bbox.height / panel.figure.dpi)
    order = sorted(range(len(labels)), key=lambda k: labels[k][0][1])
    last = len(order) - 1
    places = [(labels[k][0][1] - low) / (high - low) for k in order]
    places = spread([min(p, 1.0 - (last - k) * need) for k, p in enumerate(places)], need)
    for k, place in zip(order, places, strict=True):
        end, text, colour = labels[k]
        panel.annotate(
            text,
            end,
            xytext=(1.03, place),
            textcoords="axes fraction",
            fontsize=size,
            va="center",
            color=colour,
            annotation_clip=False,
            linespacing=1.05,
            arrowprops={**LEADER, "color": colour},
        )


def spread(places: Sequence[float], need: float) -> list[float]:
    """Rising ``places`` moved as little as need be to lie ``need`` apart (pools of neighbours share
    their mean, as in isotonic regression)."""
    pools: list[list[float]] = []  # [sum of places less their offsets, count]
    for k, place in enumerate(places):
        pools.append([place - k * need, 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += count
    means = [total / count for total, count in pools for _ in range(int(count))]
    return [mean + k * need for k, mean in enumerate(means)]


def in_legend(text: str) -> str:
    """A name that legends show: matplotlib hides those that begin with an underscore."""
    return f" {text}" if text.startswith("_") else text


def name_lines(panel: Axes, **more: Any) -> None:
    """The legend, to the right of the panel: it covers no line."""
    panel.legend(fontsize=8, loc="upper left", bbox_to_anchor=(1.0, 1.02), frameon=False, **more)


def heading(title: str, otherwise: str) -> str:
    """The engine's title for a picture, over several lines if it is long."""
    return fill(title or otherwise, 70)


def shade(panel: Axes, span: Range | None) -> None:
    """The range that matters, behind all else; speeds that matter less are paler."""
    for a, wa, b, wb in span.pieces if span is not None else ():
        most = max(max(p[1], p[3]) for p in span.pieces)  # type: ignore[union-attr]
        if wa == wb:
            panel.axvspan(a, b, color=SHADE, alpha=wa / most, zorder=0, linewidth=0)
            continue
        edges = np.linspace(a, b, SHADES + 1)
        for x, y in pairwise(edges):
            weight = float(np.interp(0.5 * (x + y), [a, b], [wa, wb]))
            panel.axvspan(x, y, color=SHADE, alpha=weight / most, zorder=0, linewidth=0)


def through_points(panel: Axes, rpm: np.ndarray, values: np.ndarray, **style: Any) -> list[Any]:
    """A smooth curve (PCHIP) through computed points, which carry the markers; it breaks where a
    point is missing."""
    x: list[float] = []
    y: list[float] = []
    at: list[int] = []
    for piece in np.ma.clump_unmasked(np.ma.masked_invalid(values)):
        own, height = rpm[piece], values[piece]
        between = np.linspace(own[:-1], own[1:], STEPS, endpoint=False).T.ravel()
        fine = np.append(between, own[-1])
        at += [len(x) + STEPS * k for k in range(own.size)]
        x += [*fine, np.nan]
        y += [*(_smooth(own, height, fine) if own.size > 1 else height), np.nan]
    return panel.plot(x, y, markevery=at, **style)


def smooth_band(panel: Axes, rpm: np.ndarray, low: np.ndarray, high: np.ndarray, **style: Any) -> None:
    """The area between two smooth curves through points, none of which is missing."""
    fine = np.linspace(rpm[0], rpm[-1], STEPS * (rpm.size - 1) + 1)
    panel.fill_between(fine, _smooth(rpm, low, fine), _smooth(rpm, high, fine), linewidth=0, **style)


def _smooth(x: np.ndarray, y: np.ndarray, at: np.ndarray) -> np.ndarray:
    from scipy.interpolate import PchipInterpolator  # slow to load, and not needed for one point

    return PchipInterpolator(x, y)(at)
