"""The filling account against engine speed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import SPEED, figure, heading, save, through_points

if TYPE_CHECKING:
    import xarray as xr


def plot_account(data: xr.Dataset, base: Path) -> list:
    """VE, and what each effect does to it, against speed, a panel each, as ``base``.png, .svg."""
    rpm, points = data.rpm.values, unit("share")
    rows = (2 + data.sizes["entry"]) // 2
    with figure(rows, 2, figsize=(9.5, 2.1 * rows)) as (fig, axes):
        first, *panels = axes.ravel()
        through_points(first, rpm, points.of(data.ve.values), **STYLES[0])
        first.set_title("volumetric efficiency, %", fontsize=9.5)
        own, swing = points.of(data.account.values), np.abs(points.of(data.swing.values))
        low, high = np.nanmin(own - swing), np.nanmax(own + swing)
        for panel, entry, values, wide in zip(panels, data.entry.values, own, swing, strict=False):
            panel.fill_between(rpm, values - wide, values + wide, color="#b8c4de")
            through_points(panel, rpm, values, **STYLES[0])
            panel.axhline(0.0, color="#555555", linewidth=0.8)
            panel.set_title(str(entry), fontsize=9.5)
            panel.set_ylim(low - 1.0, high + 1.0)
        for panel in panels[data.sizes["entry"] :]:
            panel.set_axis_off()
        for panel in axes[-1]:
            panel.set_xlabel(SPEED)
        fig.supylabel("points of VE given (+) or taken (-)", fontsize=10)
        fig.suptitle(heading(data.attrs["title"], "Filling account"), fontsize=12)
        caption = (
            "The entries add up to VE - 100 %. Shaded: from one order of removing them to its"
            f" reverse. Where the band spans zero,\nan effect acts through the others, mostly by a"
            f" shift of the tuning. {SHORT}"
        )
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)
