"""The picture of a search."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import figure, heading, name_lines, save
from aircolumn.questions.aims import KINDS, aim_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from aircolumn.questions.aims import Aim
    from aircolumn.questions.search.search import RunnerSearch, SearchResult


def plot_search(search: RunnerSearch, found: SearchResult, base: Path) -> list:
    """Every curve computed against each key, the best ringed; two aims against each other."""
    plan, aims = search.plan, search.aims
    own = unit(KINDS[aims[0].of])
    panels = len(plan.axes) + (len(aims) > 1)
    with figure(panels, sharex=False, squeeze=False, figsize=(8.0, 3.2 * panels)) as (fig, axes):
        value = own.of([k.aims[0] for k in found.known])
        fits = np.array([k.fits for k in found.known])
        order = np.arange(len(value))
        for k, (axis, panel) in enumerate(zip(plan.axes, axes[:, 0], strict=False)):
            x = np.array([plan.scaled([p.share])[0][k] for p in found.known], dtype=float)
            dots = panel.scatter(x[fits], value[fits], c=order[fits], cmap="cividis", s=22)
            panel.plot(x[~fits], value[~fits], "x", color="#999999", markersize=5)
            panel.plot(
                found.values[k],
                own.of(found.best.aims[0]),
                "o",
                markersize=12,
                fillstyle="none",
                color=STYLES[1]["color"],
            )
            panel.set(xlabel=axis.said, ylabel=f"aim, {own.name}" if own.name else "aim")
            fig.colorbar(dots, ax=panel, label="order computed")
        if len(aims) > 1:
            _front(axes[-1, 0], aims, found)
        axes[0, 0].set_title(f"{heading(plan.engine.title, 'Search')}\naim: {aim_words(aims[0])}")
        caption = f"Ring: the best. Crosses: a limit is broken. {SHORT}"
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def _front(panel: Axes, aims: Sequence[Aim], found: SearchResult) -> None:
    first, second = (unit(KINDS[a.of]) for a in aims)
    every = np.array([k.aims for k in found.known if k.fits])
    front = np.array([k.aims for k in found.front])
    panel.plot(first.of(every[:, 0]), second.of(every[:, 1]), ".", color="#999999", label="computed")
    panel.plot(first.of(front[:, 0]), second.of(front[:, 1]), label="no curve better in both", **STYLES[0])
    panel.set(
        xlabel=f"{aim_words(aims[0])}, {first.name}".rstrip(", "),
        ylabel=f"second aim, {second.name}".rstrip(", "),
    )
    panel.set_title(f"second aim: {aim_words(aims[1])}", fontsize=10)
    name_lines(panel)
