"""Curves of runners, and of cylinders, against engine speed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.patheffects import withStroke

from aircolumn.curves.interest import Range, interest
from aircolumn.curves.summary import all_crossings, peak, runner_mean
from aircolumn.curves.to_xarray import own_curve, shown_figure, shown_ve
from aircolumn.display_units import unit
from aircolumn.output import SHORT
from aircolumn.output.curves.text import FEW
from aircolumn.output.plots import (
    SPEED,
    figure,
    heading,
    label_ends,
    line_style,
    name_lines,
    save,
    shade,
    through_points,
)

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

    from aircolumn.curves.switchable import Switched
    from aircolumn.display_units import Unit
    from aircolumn.engine.description.computing import Speeds

#: (kind of quantity, decimals of a peak) of VE, torque and power
PANELS = (("share", 1), ("torque", 0), ("power", 1))


def plot_runners(data: xr.Dataset, speeds: Speeds, base: Path, manifolds: Sequence[Switched] = ()) -> list:
    """VE, torque and power of all runners against speed, as ``base``.png and .svg.

    Peaks are ringed, torque crossings marked on the speed axis, the range that matters shaded; at
    the end of each line stand its runner, its peak and the mean over the range that matters. What
    switchable manifolds give lies broad and pale behind.
    """
    rpm = data.rpm.values
    span = interest(speeds, rpm)
    with figure(3, figsize=(9.5, 10.5), height_ratios=(3, 3, 2)) as (fig, axes):
        ve, density = shown_ve(data)
        (torque, stated), (power, _) = shown_figure(data, "torque"), shown_figure(data, "power")
        for m in manifolds:
            switched = unit("share").of(m.ve), unit("torque").of(m.torque)
            for panel, values in zip(axes[:2], switched, strict=True):
                panel.plot(
                    m.rpm,
                    values,
                    color="#b0b0b0",
                    linewidth=8,
                    alpha=0.5,
                    marker="",
                    zorder=0.5,
                    label=m.name,
                )
        for panel, name, (kind, decimals) in zip(axes, (ve, torque, power), PANELS, strict=True):
            _curves(panel, data, name, span, unit(kind), decimals, means=panel is not axes[2])
        axes[0].set_ylabel(f"volumetric efficiency, %\n(trapped air, {density} reference)")
        axes[1].set_ylabel(f"brake torque, {unit('torque').name}\n({stated})")
        axes[2].set_ylabel(f"brake power, {unit('power').name}\n({stated})")
        axes[2].set_xlabel(SPEED)
        if data.sizes["runner"] <= FEW:
            _mark_crossings(axes[1], sorted(at for _, _, at in all_crossings(data, torque)))
        axes[0].set_title(heading(data.attrs["title"], "Volumetric efficiency, torque and power"))
        fig.supxlabel(_caption(data, span, manifolds), fontsize=8.5, color="#444444")
        return save(fig, base)


def plot_cylinders(data: xr.Dataset, base: Path) -> list:
    """VE of every cylinder against speed, one panel a runner, as ``base``.png and .svg."""
    runners = list(data.runner.values)
    with figure(len(runners), squeeze=False) as (fig, axes):
        for panel, runner in zip(axes[:, 0], runners, strict=True):
            one = data.sel(runner=runner)
            for k, number in enumerate(data.cylinder.values):
                style = line_style(k)
                own = unit("share").of(one.ve_cylinder.sel(cylinder=number))
                panel.plot(one.rpm, own, label=number, **style)
            panel.set_ylabel(f"{runner}: VE of each cylinder, %")
            name_lines(panel, title="cylinder")
        axes[0, 0].set_title(heading(data.attrs["title"], "Cylinders"))
        axes[-1, 0].set_xlabel(SPEED)
        fig.supxlabel(SHORT, fontsize=8.5, color="#444444")
        return save(fig, base)


def _curves(
    panel: Axes,
    data: xr.Dataset,
    name: str,
    span: Range | None,
    shown_in: Unit,
    decimals: int,
    means: bool,
) -> None:
    """The lines of one figure; shown_in: its unit; decimals: of a peak; means: whether to name
    those over ``span``."""
    rpm, few = data.rpm.values, data.sizes["runner"] <= FEW
    shade(panel, span)
    labels = []
    for k, runner in enumerate(data.runner.values):
        values = shown_in.of(data[name].sel(runner=runner).values)
        style = line_style(k)
        label = str(runner)
        if span and means:
            mean = float(shown_in.of(runner_mean(data, name, runner, span)))
            label += " (mean not known)" if np.isnan(mean) else f" (mean {mean:.1f} {shown_in.name})"
        through_points(panel, rpm, values, label=label, **style)
        gaps = rpm[np.isnan(values)]
        panel.plot(
            gaps,
            np.full(gaps.size, 0.02 + 0.03 * k),
            "x",
            color=style["color"],
            transform=panel.get_xaxis_transform(),
        )
        if gaps.size == rpm.size:
            continue
        one = own_curve(data, runner)
        top = peak(one.rpm.values, shown_in.of(one[name].values))
        panel.plot(top.rpm, top.value, marker="o", markersize=12, fillstyle="none", color=style["color"])
        texts = [str(runner), f"{top.value:.{decimals}f} {shown_in.name} at {top.rpm:.0f}"]
        texts += [label.partition(" (")[2].rstrip(")")] if span and means else []
        text = "\n".join(texts) if few else ": ".join(texts[:2])
        labels.append((rpm, values, text, style["color"]))
    panel.margins(y=0.08)
    label_ends(panel, labels)


def _mark_crossings(panel: Axes, speeds: Sequence[float]) -> None:
    """Dotted lines; a number where there is room for one."""
    last, room = -np.inf, 0.025 * np.diff(panel.get_xlim())[0]
    for at in speeds:
        panel.axvline(at, color="#777777", linewidth=0.9, linestyle=(0, (2, 3)))
        if at - last > room:
            text = panel.annotate(
                f"{at:.0f}",
                (at, 0.99),
                xycoords=("data", "axes fraction"),
                fontsize=8,
                rotation=90,
                ha="right",
                va="top",
                color="#333333",
                zorder=6,
            )
            text.set_path_effects([withStroke(linewidth=2, foreground="white")])
            last = at


def _caption(data: xr.Dataset, span: Range | None, manifolds: Sequence[Switched]) -> str:
    text = "Markers: computed points. Rings: peak values, labelled at the right.\n"
    if span:
        text += f"Shaded: range that matters, {span.words}. "
    if data.sizes["runner"] <= FEW and all_crossings(data, "torque"):
        text += "Dotted: speeds at which torque curves cross. "
    if manifolds:
        text += f"Wide pale bands: {', '.join(m.name for m in manifolds)}. "
    gaps = np.any(np.isnan(data.ve.values))
    crosses = "\nCrosses: speeds that could not be computed. " if gaps else "\n"
    return text.strip() + crosses + SHORT
