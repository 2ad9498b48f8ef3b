"""Pictures of studies: contour, family of curves, best at each speed; search, sensitivity, band."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib import colormaps

from aircolumn.curves.summary import TIE
from aircolumn.display_units import percent, unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import (
    SPEED,
    contours,
    figure,
    heading,
    label_ends,
    name_lines,
    save,
)
from aircolumn.questions.sweep.cuts import cut_of, mean_torque, shown_curves
from aircolumn.questions.sweep.sweep import best_per_speed
from aircolumn.questions.sweep.ties import level

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from aircolumn.study.plan import Plan

MOST_GREY = 500  # curves


def plot_sweep(plan: Plan, data: xr.Dataset, folder: Path) -> list:
    """study-contour (grids with a numeric key), study-family, study-envelope into ``folder``."""
    paths = plot_family(plan, data, folder / "study-family")
    paths += plot_envelope(plan, data, folder / "study-envelope")
    numeric = plan.grid_shape() and not isinstance(plan.axes[0].values[0], str)
    if numeric and len(plan.axes[0].values) > 1 and data.sizes["rpm"] > 1:
        paths += plot_contour(plan, data, folder / "study-contour")
    return paths


def plot_contour(plan: Plan, data: xr.Dataset, base: Path) -> list:
    """VE over speed and the first key; for two keys also mean torque over both."""
    first = plan.axes[0]
    both = len(plan.axes) > 1 and not isinstance(plan.axes[1].values[0], str)
    both = both and len(plan.axes[1].values) > 1
    cut, texts = cut_of(plan, data)
    with figure(1 + both, figsize=(8.5, 5.2 * (1 + both)), sharex=False, squeeze=False) as (
        fig,
        axes,
    ):
        panel = axes[0, 0]
        contours(fig, panel, cut.rpm, first.values, 100 * cut.ve.values, "VE, %")
        failed = np.argwhere(np.isnan(cut.ve.values))
        panel.plot(
            cut.rpm.values[failed[:, 1]],
            np.array(first.values)[failed[:, 0]],
            "x",
            color="#b3541e",
            markersize=5,
        )
        panel.set(xlabel=SPEED, ylabel=first.said)
        what = f"Volumetric efficiency{f' at {texts}' if texts else ''}"
        panel.set_title(f"{heading(plan.engine.title, 'Study')}\n{what}")
        if both:
            _mean_torque(fig, axes[1, 0], plan, data)
        caption = "Circles: the best of each row." + (
            " Crosses and blanks: could not be computed." if np.isnan(data.ve.values).any() else ""
        )
        best = np.nanargmax(np.nan_to_num(cut.ve.values, nan=-1.0), axis=1)
        some = np.isfinite(cut.ve.values).any(axis=1)
        panel.plot(
            cut.rpm.values[best][some],
            np.array(first.values)[some],
            "o",
            color="white",
            markeredgecolor="black",
            clip_on=False,
        )
        fig.supxlabel(f"{caption}\n{SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)


def _mean_torque(fig: Figure, panel: Axes, plan: Plan, data: xr.Dataset) -> None:
    """Mean torque over the range that matters against the first two keys."""
    first, second = plan.axes[:2]
    mean, span = mean_torque(plan, data)
    torque = unit("torque")
    if not np.isfinite(mean).any():
        panel.text(
            0.5,
            0.5,
            "not known: in every row a point could not be computed",
            ha="center",
            transform=panel.transAxes,
        )
        return
    contours(fig, panel, second.values, first.values, torque.of(mean), f"mean torque, {torque.name}")
    i, j = np.unravel_index(np.argmax(np.nan_to_num(mean, nan=-1e9)), mean.shape)
    panel.plot(
        second.values[j],
        first.values[i],
        "o",
        color="white",
        markeredgecolor="black",
        clip_on=False,
        zorder=5,
    )
    failed = np.argwhere(np.isnan(mean))
    panel.plot(
        np.array(second.values)[failed[:, 1]],
        np.array(first.values)[failed[:, 0]],
        "x",
        color="#b3541e",
        markersize=5,
    )
    panel.set(xlabel=second.said, ylabel=first.said)
    panel.set_title(f"Mean torque {span.words}")


def plot_family(plan: Plan, data: xr.Dataset, base: Path) -> list:
    """Torque and VE over speed, a curve for each value of the first key (or each case)."""
    shape = plan.grid_shape()
    cut, texts = cut_of(plan, data) if shape else (data, "")
    lines = len(plan.axes[0].values) if shape else data.sizes["case"]
    picked = shown_curves(lines)
    colors = colormaps["cividis"](np.linspace(0.0, 0.85, len(picked)))
    with figure(2) as (fig, axes):
        for panel, name, kind in zip(axes, ("ve", "torque"), ("share", "torque"), strict=True):
            labels = []
            for n, (k, color) in enumerate(zip(picked, colors, strict=True)):
                style = STYLES[n % len(STYLES)]
                values = unit(kind).of(cut[name].values[k])
                panel.plot(
                    cut.rpm,
                    values,
                    color=color,
                    label=_case_label(plan, k),
                    linestyle=style["linestyle"],
                    marker=style["marker"],
                )
                labels.append((cut.rpm.values, values, _case_label(plan, k), "#333333"))
            label_ends(panel, labels)
        axes[0].set_ylabel("volumetric efficiency, %\n(trapped air, ambient reference)")
        axes[1].set(ylabel=f"brake torque, {unit('torque').name}", xlabel=SPEED)
        axes[0].set_title(heading(plan.engine.title, "Study"))
        title = plan.axes[0].said if shape else "case"
        some = f"{len(picked)} of {lines} curves" if len(picked) < lines else "Curves"
        gaps = " Gaps: could not be computed." if np.isnan(data.ve.values).any() else ""
        caption = f"{some} by {title}{f' ({texts})' if texts else ''}.{gaps}\n{SHORT}"
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def _case_label(plan: Plan, k: int) -> str:
    if plan.grid_shape():
        value = plan.axes[0].values[k]
        return value if isinstance(value, str) else f"{value:.4g}"
    return str(plan.case_names[k])


def plot_envelope(plan: Plan, data: xr.Dataset, base: Path) -> list:
    """The most torque any case has at each speed, and the values of the cases level with it."""
    values, best = best_per_speed(data)
    rpm = data.rpm.values
    numeric = [k for k, a in enumerate(plan.axes) if not isinstance((*a.values, a.low)[0], str)]
    with figure(1 + len(numeric), squeeze=False, figsize=(8.0, 4.2 + 2.2 * len(numeric))) as (fig, axes):
        top = axes[0, 0]
        torque = unit("torque")
        table = torque.of(data.torque.values.reshape(-1, len(rpm)))
        drawn = shown_curves(len(table), MOST_GREY)
        top.plot(rpm, table[drawn].T, color="#c9c9c9", linewidth=0.6, marker="")
        top.plot(rpm, torque.of(values), label="best at each speed", **STYLES[0])
        top.set_ylabel(f"brake torque, {torque.name}")
        top.set_title(heading(plan.engine.title, "Study"))
        name_lines(top)
        alike = level(table)
        for panel, k in zip(axes[1:, 0], numeric, strict=True):
            _level_values(panel, plan, k, rpm, alike, best)
        axes[-1, 0].set_xlabel(SPEED)
        grey = "every case" if len(drawn) == len(table) else f"{len(drawn)} of {len(table)} cases"
        caption = (
            f"Grey: {grey}. Below: the values of the best case (points) and of all cases"
            f" within {percent(TIE)} of it (bars).\n{SHORT}"
        )
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def _level_values(
    panel: Axes, plan: Plan, k: int, rpm: np.ndarray, alike: np.ndarray, best: np.ndarray
) -> None:
    """The values of one key that make the most torque at each speed, and those level with it."""
    held = np.array([row[k] for row in plan.rows], dtype=float)
    there = np.flatnonzero(best >= 0)
    low, high = (np.array([f(held[alike[:, n]]) for n in there]) for f in (np.min, np.max))
    panel.vlines(rpm[there], low, high, color=STYLES[1]["color"], alpha=0.35, linewidth=5.0)
    panel.plot(rpm[there], held[best[there]], **{**STYLES[1], "linestyle": ""})
    panel.set_ylabel(plan.axes[k].said, fontsize=8)
