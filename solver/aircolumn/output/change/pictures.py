"""What a change did, as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import SPEED, figure, heading, label_ends, save

if TYPE_CHECKING:
    import xarray as xr


def plot_change(data: xr.Dataset, base: Path) -> list:
    """Torque before (dashed) and after (whole line) of each runner, and the changes of torque and
    VE, as ``base``.png and .svg."""
    rpm, torque = data.rpm.values, unit("torque")
    with figure(3, figsize=(9.5, 10.0), height_ratios=(3, 2, 2)) as (fig, (top, middle, low)):
        labels: dict = {panel: [] for panel in (top, middle, low)}
        for k, name in enumerate(data.runner.values):
            one, style = data.sel(runner=name), STYLES[k % len(STYLES)]
            (was, now), (ve_was, ve_now) = torque.of(one.torque.values), 100 * one.ve.values
            old = {**style, "linestyle": "--", "fillstyle": "none", "alpha": 0.7}
            top.plot(rpm, was, **old)
            for panel, values in ((top, now), (middle, now - was), (low, ve_now - ve_was)):
                panel.plot(rpm, values, **{**style, "linestyle": "-"})
                labels[panel].append((rpm, values, str(name), style["color"]))
        for panel in (middle, low):
            panel.axhline(0.0, color="#555555", linewidth=0.8)
        for panel, texts in labels.items():
            label_ends(panel, texts)
        top.set_ylabel(f"brake torque, {torque.name}")
        middle.set_ylabel(f"change of torque, {torque.name}")
        low.set(ylabel="change of VE, points", xlabel=SPEED)
        top.set_title(heading(data.attrs["title"], "Before and after"))
        caption = "Dashed lines, hollow points: before. Solid lines: after."
        fig.supxlabel(f"{caption}\n{SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)
