"""The control unit's table as contours over speed and load."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT
from aircolumn.output.fuelling.words import load_heading, load_kind
from aircolumn.output.plots import SPEED, contours, figure, heading, save

if TYPE_CHECKING:
    from aircolumn.fuelling.session import ControlTable


def plot_table(found: ControlTable, title: str, base: Path) -> list:
    """VE, and where a tuned table was made into this one, the change, as ``base``.png and .svg."""
    at, moved = found.at, found.moved
    load = unit(load_kind(at)).of(at.loads)
    values = found.filling if moved is None else moved.values
    panels = [(f"VE of {found.name}, %", 100.0 * values)]
    if moved is not None:
        panels.append((f"change from {found.old}, %", 100.0 * (moved.ratio - 1.0)))
    with figure(len(panels), squeeze=False, figsize=(8.5, 4.6 * len(panels))) as (fig, axes):
        for panel, (label, table) in zip(axes[:, 0], panels, strict=True):
            contours(fig, panel, at.rpm, load, np.ma.masked_invalid(table.T), label)
            panel.plot(*_grid(at.rpm, load), ".", color="#555555", markersize=2)
            panel.set(ylabel=load_heading(at))
        axes[-1, 0].set_xlabel(SPEED)
        axes[0, 0].set_title(heading(title, "Table of the control unit"))
        fig.supxlabel(f"Dots: cells. Blank: out of reach. {SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)


def _grid(rpm: np.ndarray, loads: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    x, y = np.meshgrid(rpm, loads)
    return x.ravel(), y.ravel()
