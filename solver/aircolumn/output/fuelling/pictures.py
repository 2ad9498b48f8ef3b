"""The control unit's table as contours over speed and load."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.fuelling.words import load_heading, load_kind
from aircolumn.output.plots import SPEED, contours, figure, heading, save

if TYPE_CHECKING:
    from aircolumn.fuelling.logged import LogAsks
    from aircolumn.fuelling.session import ControlTable


def plot_table(found: ControlTable, title: str, base: Path) -> list:
    """VE; where a tuned table was made into this one, the change; where there are pulls, what they measured
    beside the table; as ``base``.png and .svg."""
    at, moved = found.at, found.moved
    load = unit(load_kind(at)).of(at.loads)
    panels = [(f"VE of {found.name}, %", 100.0 * found.values)]
    if moved is not None:
        panels.append((f"change from {found.own.old}, %", 100.0 * (moved.ratio - 1.0)))
    rows = len(panels) + (found.log is not None)
    with figure(rows, squeeze=False, figsize=(8.5, 4.6 * rows)) as (fig, axes):
        for panel, (label, table) in zip(axes[: len(panels), 0], panels, strict=True):
            contours(fig, panel, at.rpm, load, np.ma.masked_invalid(table.T), label)
            panel.plot(*_grid(at.rpm, load), ".", color="#555555", markersize=2)
            panel.set(ylabel=load_heading(at))
        if found.log is not None:
            _draw_log(axes[-1, 0], found.log)
        axes[-1, 0].set_xlabel(SPEED)
        axes[0, 0].set_title(heading(title, "Table of the control unit"))
        below = f"Dots: cells. Blank: out of reach, or mostly burned gas. {SHORT}"
        fig.supxlabel(below, fontsize=8.5, color="#444444")
        return save(fig, base)


def _draw_log(axes: Any, log: LogAsks) -> None:
    """Measured filling with its interval, beside the table's."""
    wide = None if np.isnan(log.known_to) else 100.0 * log.known_to * log.measured
    axes.plot(log.rpm, 100.0 * log.table, **STYLES[0], label="table")
    axes.errorbar(log.rpm, 100.0 * log.measured, wide, fmt="o", color=STYLES[1]["color"], label="measured")
    axes.set(ylabel="VE at full load, %")
    axes.legend()


def _grid(rpm: np.ndarray, loads: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    x, y = np.meshgrid(rpm, loads)
    return x.ravel(), y.ravel()
