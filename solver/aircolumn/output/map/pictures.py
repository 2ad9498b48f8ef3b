"""The tuning map as contours."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.patheffects import withStroke

from aircolumn.display_units import unit
from aircolumn.output import SHORT
from aircolumn.output.plots import SPEED, contours, figure, heading, save

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes


def plot_map(data: xr.Dataset, base: Path) -> list:
    """VE as contours over speed and runner length or bore, with ridge and rules of thumb, as
    ``base``.png and .svg."""
    vary = data.attrs["vary"]
    length = unit("length").of(data[vary].values)
    with figure(1, figsize=(8.5, 6.8)) as (fig, axes):
        ve = np.ma.masked_invalid(100 * data.ve.values)
        contours(fig, axes, data.rpm, length, ve, "volumetric efficiency, % (ambient reference)")
        axes.plot(
            data.ridge,
            length,
            "o",
            color="white",
            markeredgecolor="black",
            clip_on=False,
            zorder=5,
            label=f"highest VE at this {vary}",
        )
        rule = {"color": "#b3541e", "linewidth": 1.6}
        for k, style in zip(data.k.values, ("-", "--"), strict=True):
            text = f"Helmholtz (neck and volume), K = {k:g}"
            axes.plot(data.neck_and_volume.sel(k=k), length, style, label=text, **rule)
        _quarter_waves(axes, data, length)
        axes.set(
            xlim=(data.rpm[0], data.rpm[-1]),
            ylim=(length[0], length[-1]),
            xlabel=SPEED,
            ylabel=f"runner {vary}, {unit('length').name}",
        )
        axes.set_title(heading(data.attrs["title"], "Tuning map"))
        axes.legend(
            fontsize=8,
            loc="upper center",
            bbox_to_anchor=(0.5, -0.09),
            ncols=2,
            labelcolor="white",
            facecolor="#555555",
        )
        blank = "Blank: could not be computed. " if np.any(ve.mask) else ""
        caption = (
            f"Circles: the highest VE at each {vary}. Lines: what the rules of thumb say.\n{blank}{SHORT}"
        )
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def _quarter_waves(axes: Axes, data: xr.Dataset, length: np.ndarray) -> None:
    """The rule of thumb by order, each with its number."""
    for order in data.order.values:
        speed = data.quarter_wave.sel(order=order).values
        axes.plot(
            speed,
            length,
            ":",
            color="white",
            linewidth=1.8,
            label="quarter wave, by order" if order == data.order.values[0] else None,
            path_effects=[withStroke(linewidth=3.2, foreground="black")],
        )
        inside = np.flatnonzero((speed > data.rpm.values[0]) & (speed < data.rpm.values[-1]))
        if inside.size:
            k = inside[len(inside) // 2]
            outline = [withStroke(linewidth=3, foreground="black")]
            axes.annotate(f"{order}", (speed[k], length[k]), color="white", fontsize=10, path_effects=outline)
