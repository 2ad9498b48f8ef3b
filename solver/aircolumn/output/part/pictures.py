"""Areas along a shape that was read from a mesh, and its centre line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import figure, save

if TYPE_CHECKING:
    from aircolumn.part.read_back import Schedule


def plot_schedule(read: Schedule, title: str, base: Path) -> list[Path]:
    """``base``.png and .svg: area, hydraulic diameter beside the bore of the same area, curvature."""
    size, area = unit("length"), unit("area")
    x = size.of(read.distance)
    bore = np.sqrt(4.0 * read.area / np.pi)
    _, _, curvature = read.line.at(read.distance)
    with figure(3, figsize=(8.0, 8.4)) as (fig, panels):
        panels[0].plot(x, area.of(read.area), color=STYLES[0]["color"])
        panels[0].set(title=title, ylabel=f"area, {area.name}")
        panels[1].plot(x, size.of(bore), color=STYLES[0]["color"], label="bore of the same area")
        hydraulic = 4.0 * read.area / read.perimeter
        panels[1].plot(
            x, size.of(hydraulic), color=STYLES[1]["color"], linestyle="--", label="hydraulic diameter"
        )
        panels[1].set_ylabel(size.name)
        panels[1].legend()
        bent = np.linalg.norm(curvature, axis=1)
        panels[2].plot(x, bent / size.factor, color=STYLES[0]["color"])
        panels[2].set(
            ylabel=f"curvature, 1/{size.name}", xlabel=f"distance along the centre line, {size.name}"
        )
        fig.supxlabel(SHORT, fontsize=8.5, color="#444444")
        return save(fig, base)
