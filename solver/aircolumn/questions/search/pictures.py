"""The picture of a search."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import figure, heading, name_lines, save
from aircolumn.questions.aims import KINDS
from aircolumn.questions.search.front import bend_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from aircolumn.questions.aims import Aim
    from aircolumn.questions.search.known import Design
    from aircolumn.questions.search.search import RunnerSearch, SearchResult
    from aircolumn.study.axes import Axis

RING = {"markersize": 12, "fillstyle": "none", "color": STYLES[1]["color"]}


def plot_search(search: RunnerSearch, found: SearchResult, base: Path) -> list:
    """Every curve computed against each key, the best ringed; two aims against each other."""
    plan, aims = search.plan, search.aims
    own = unit(KINDS[aims[0].of])
    designs = found.shown
    best = found.judged
    panels = len(plan.axes) + (len(aims) > 1)
    with figure(panels, sharex=False, squeeze=False, figsize=(8.0, 3.2 * panels)) as (fig, axes):
        value = own.of([d.aims[0] for d in designs])
        fits = np.array([d.fits for d in designs])
        order = np.arange(len(value))
        for k, (axis, panel) in enumerate(zip(plan.axes, axes[:, 0], strict=False)):
            x = _places(axis, [d.values[k] for d in designs])
            dots = panel.scatter(x[fits], value[fits], c=order[fits], cmap="cividis", s=22)
            panel.plot(x[~fits], value[~fits], "x", color="#999999", markersize=5)
            panel.plot(_places(axis, [found.values[k]]), own.of(best.aims[0]), "o", **RING)
            if axis.in_words:
                panel.set_xticks(range(len(axis.values)), axis.values)
                panel.set_xlim(-0.5, len(axis.values) - 0.5)
            panel.set(xlabel=axis.said, ylabel=f"aim, {own.name}" if own.name else "aim")
            fig.colorbar(dots, ax=panel, label="order computed")
        if len(aims) > 1:
            _front(axes[-1, 0], aims, designs, found.front)
        over = search.asked.over
        title = f"{heading(plan.engine.title, 'Search')}\naim: {aims[0].words}"
        axes[0, 0].set_title(title if over is None else f"{title},\n{over.words}")
        caption = f"Ring: the best. Crosses: a limit is broken. {SHORT}"
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def _places(axis: Axis, values: Sequence[float | str]) -> np.ndarray:
    """Values of a key along an axis of a picture; words stand side by side."""
    if axis.in_words:
        return np.array([axis.values.index(v) for v in values], dtype=float)
    return np.array(values, dtype=float)


def _front(panel: Axes, aims: Sequence[Aim], designs: Sequence[Design], front: Sequence[Design]) -> None:
    first, second = (unit(KINDS[a.of]) for a in aims)
    every = np.array([d.aims for d in designs if d.fits]).reshape(-1, 2)
    line = np.array([d.aims for d in front]).reshape(-1, 2)
    panel.plot(first.of(every[:, 0]), second.of(every[:, 1]), ".", color="#999999", label="computed")
    panel.plot(first.of(line[:, 0]), second.of(line[:, 1]), label="no curve better in both", **STYLES[0])
    if (bend := bend_of(list(front))) is not None:
        at = first.of(line[bend, 0]), second.of(line[bend, 1])
        panel.plot(*at, "o", label=f"the bend, file {bend + 1}", **RING)
    panel.set(
        xlabel=f"{aims[0].words}, {first.name}".rstrip(", "),
        ylabel=f"second aim, {second.name}".rstrip(", "),
    )
    panel.set_title(f"second aim: {aims[1].words}", fontsize=10)
    name_lines(panel)
