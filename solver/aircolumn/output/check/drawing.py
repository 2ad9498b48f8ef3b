"""A drawing of the engine file: what the air passes, to scale along its way.

Lengths are to scale; widths too, WIDER times. A volume is drawn as the side of a cube that holds
it, a cylinder by its bore and stroke.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.patches import Polygon, Rectangle

from aircolumn.display_units import said_bore, said_place, unit
from aircolumn.engine.model.flow_path import INTAKE, Bore, Chamber, Gate, Vessel
from aircolumn.output import SHORT
from aircolumn.output.plots import figure, save

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDER = 3.0
LOOKS = {INTAKE: ("#dbe7ee", "#14213d"), "exhaust": ("#f1ddcc", "#7a3512")}  # face, edge
VALVES = {"intake valve": "right", "exhaust valve": "left"}  # their names stand apart
LEVELS = 3  # of names, one below the other
MOST_BORES = 8  # written one by one


def plot_layout(paths: dict[str, list[Any]], title: str, base: Path) -> list:
    """The way through each engine of ``paths`` ({name: flow path}), one panel each, as
    ``base``.png and .svg."""
    size = (12.0, 1.0 + 3.2 * len(paths))
    with figure(len(paths), squeeze=False, figsize=size) as (fig, axes):
        ends = []
        for panel, (name, path) in zip(axes[:, 0], paths.items(), strict=True):
            ends.append(_draw(panel, path))
            panel.set_ylabel(name)
        axes[0, 0].set_xlim(-0.03 * max(ends), 1.02 * max(ends))  # one scale for all
        axes[0, 0].set_title(title)
        axes[-1, 0].set_xlabel(f"distance along the flow, {unit('length').name}")
        caption = f"Lengths to scale, widths {WIDER:.0f} times as large. Volumes: sides of a cube."
        if any(isinstance(part, Bore) and part.branches for path in paths.values() for part in path):
            caption += " On the log: where the runner of each cylinder joins."
        fig.supxlabel(f"{caption}\n{SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)


def layout_svg(paths: dict[str, list[Any]], folder: Path) -> str:
    """The drawing as an SVG element for a page, its parts numbered as in sizes_table(); ``folder``: for
    scratch."""
    numbers = {key: k for k, key in enumerate(_parts(paths), 1)}
    with figure(len(paths), squeeze=False, figsize=(4.6, 0.4 + 0.95 * len(paths))) as (fig, axes):
        ends = []
        for panel, (name, path) in zip(axes[:, 0], paths.items(), strict=True):
            ends.append(_draw(panel, path, [numbers[key] for key in _keys(path)]))
            panel.set_title(name, loc="left", fontsize=9, pad=2)
            panel.tick_params(labelsize=8)
        axes[0, 0].set_xlim(-0.03 * max(ends), 1.02 * max(ends))
        axes[-1, 0].set_xlabel(f"distance along the flow, {unit('length').name}", fontsize=9)
        _, picture = save(fig, folder / "layout")
    text = picture.read_text(encoding="utf-8")
    (folder / "layout.png").unlink()
    picture.unlink()
    return text[text.index("<svg") :]


def sizes_table(paths: dict[str, list[Any]]) -> tuple[list[str], list[list[str]]]:
    """What the numbers of layout_svg() are, and how large in each engine: headings and rows."""
    sizes = {n: dict(zip(_keys(path), map(_words, path), strict=True)) for n, path in paths.items()}
    rows = [
        [f"{k} {name}", *(sizes[n].get((name, nth), "none") for n in paths)]
        for k, (name, nth) in enumerate(_parts(paths), 1)
    ]
    return ["", *paths], rows


def _keys(path: Sequence[Any]) -> list[tuple[str, int]]:
    """Each part by its name, and which of that name it is."""
    names = [part.name for part in path]
    return [(name, names[:k].count(name)) for k, name in enumerate(names)]


def _parts(paths: dict[str, list[Any]]) -> list[tuple[str, int]]:
    """The parts of all ways, in the order in which the air passes the longest."""
    longest = max(paths.values(), key=len)
    return list(dict.fromkeys([*_keys(longest), *(key for path in paths.values() for key in _keys(path))]))


def _words(part: Any) -> str:
    """The size of a part in one line."""
    return ", ".join(part_label(part).split("\n")[1:]) or "as the pipe"


def _draw(panel: Axes, path: Sequence[Any], numbers: Sequence[int] | None = None) -> float:
    """One way, in the unit of lengths, around the axis; names of gates above, all others below, or numbers in
    their place. Returns its length."""
    x, half, below = 0.0, max(_height(part) for part in path) / 2.0, 0
    for k, part in enumerate(path):
        face, edge = LOOKS[part.side]
        start, width, height = x, _length(part), _height(part)
        if isinstance(part, Bore):
            x = _bore(panel, part, x, face, edge)
        elif isinstance(part, Gate):
            height = height or WIDER * _size(_beside(path, k))
            panel.plot([x, x], [-height / 2.0, height / 2.0], color=edge, linewidth=2.2, marker="")
        else:
            panel.add_patch(
                Rectangle((x, -height / 2.0), width, height, facecolor=face, edgecolor=edge, linewidth=1.2)
            )
            x += width
        middle = start + width / 2.0
        if numbers is not None:
            gate = isinstance(part, Gate)
            place = (middle, 1.12 * half) if gate else (middle, 0.0)
            align: dict[str, Any] = {
                "ha": VALVES.get(part.name, "center"),
                "va": "bottom" if gate else "center",
            }
            panel.text(*place, f"{numbers[k]}", fontsize=9, color=edge, **align)
        elif isinstance(part, Gate):
            _name(panel, part, (middle, height / 2.0), (middle, 1.12 * half), "bottom", edge)
        else:
            low = -half * (1.15 + 0.55 * (below % LEVELS))
            _name(panel, part, (middle, -height / 2.0), (middle, low), "top", edge)
            below += 1
    panel.set(ylim=(-3.0 * half, 1.6 * half) if numbers is None else (-1.1 * half, 1.7 * half), yticks=[])
    panel.grid(visible=False)
    panel.spines["left"].set_visible(False)
    panel.axhline(0.0, color="#999999", linewidth=0.5, linestyle=(0, (12, 3, 2, 3)), zorder=0)
    return x


def _name(
    panel: Axes, part: Any, at: tuple[float, float], place: tuple[float, float], side: str, colour: str
) -> None:
    """Name and size, with a thin line to the part."""
    line = {"arrowstyle": "-", "color": "#aaaaaa", "linewidth": 0.6}
    across = VALVES.get(part.name, "center")
    panel.annotate(
        part_label(part), at, place, ha=across, va=side, fontsize=7.5, color=colour, arrowprops=line
    )


def _bore(panel: Axes, part: Bore, x: float, face: str, edge: str) -> float:
    """A pipe from ``x`` on; where it ends."""
    upper = []
    for length, first, last in part.sections:
        ends = (x, x + _size(length))
        upper += [(at, 0.5 * WIDER * _size(bore)) for at, bore in zip(ends, (first, last), strict=True)]
        x = ends[1]
    lower = [(a, -b) for a, b in reversed(upper)]
    panel.add_patch(Polygon([*upper, *lower], facecolor=face, edgecolor=edge, linewidth=1.2))
    for number, at in enumerate(part.branches, 1):
        _branch(panel, number, _size(at), upper, x - _size(part.length), edge)
    return x


def _branch(panel: Axes, number: Any, at: Any, upper: Any, begin: Any, edge: Any) -> None:
    """Where the runner of a cylinder leaves a log."""
    xs, ys = zip(*upper, strict=True)
    wall = float(np.interp(begin + at, xs, ys))
    panel.plot([begin + at] * 2, [wall, 1.12 * wall], color=edge, linewidth=1.2, marker="")
    panel.text(begin + at, 1.14 * wall, f"{number}", ha="center", va="bottom", fontsize=7, color=edge)


def _size(metres: float) -> float:
    return float(unit("length").of(metres))


def _length(part: Any) -> float:
    """Along the flow."""
    if isinstance(part, Bore):
        return _size(part.length)
    if isinstance(part, Chamber):
        return _size(part.stroke)
    return 0.0 if isinstance(part, Gate) else _size(part.volume ** (1.0 / 3.0))


def _height(part: Any) -> float:
    """Across it as drawn."""
    if isinstance(part, Bore):
        widest = max(max(s[1:]) for s in part.sections)
    elif isinstance(part, Chamber):
        widest = part.bore
    elif isinstance(part, Vessel):
        return _size(part.volume ** (1.0 / 3.0))
    else:
        widest = part.width * part.count**0.5
    return WIDER * _size(widest)


def _beside(path: Sequence[Any], k: int) -> float:
    """Width of the pipe next to place ``k``, m."""
    pipes = [(abs(j - k), p.sections[0][1]) for j, p in enumerate(path) if isinstance(p, Bore)]
    return min(pipes)[1]


def part_label(part: Any) -> str:
    """Name and size."""
    if isinstance(part, Bore):
        return f"{part.name}\n{said_place(part.length)}\nbore {_bores(part)}"
    if isinstance(part, Chamber):
        return (
            f"{part.name}\n{said_bore(part.bore)} x {said_bore(part.stroke)}\n"
            f"{unit('volume').said(part.volume)}"
        )
    if isinstance(part, Vessel):
        return f"{part.name}\n{unit('large volume').said(part.volume)}"
    if part.width == 0.0:
        return part.name
    many = f"{part.count} x " if part.count > 1 else ""
    return f"{part.name}\n{many}{said_bore(part.width)}"


def _bores(part: Bore) -> str:
    """Bores along a pipe in words; of many only the smallest and the largest."""
    along = [b for s in part.sections for b in s[1:]]
    texts = [said_bore(b) for k, b in enumerate(along) if k == 0 or b != along[k - 1]]
    if len(texts) > MOST_BORES:
        texts = [said_bore(min(along)), said_bore(max(along))]
        return " to ".join(texts).replace(f" {unit('length').name} to", " to")
    return " - ".join(texts).replace(f" {unit('length').name} -", " -")
