"""Pictures of studies: contour, family of curves, best at each speed; search, sensitivity, band."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib import colormaps

from aircolumn.curves.summary import TIE
from aircolumn.display_units import unit
from aircolumn.output.caution import SHORT
from aircolumn.output.line_styles import STYLES
from aircolumn.output.plots import (
    SPEED,
    contours,
    figure,
    heading,
    label_ends,
    name_lines,
    save,
)
from aircolumn.output.study.words import axis_words
from aircolumn.study.aims import KINDS, aim_words
from aircolumn.study.cuts import cut_of, mean_torque, shown_curves
from aircolumn.study.sweep import best_per_speed
from aircolumn.study.ties import level

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from aircolumn.study.models import Aim
    from aircolumn.study.plan import Plan
    from aircolumn.study.search import RunnerSearch, SearchResult
    from aircolumn.study.sensitivity import Indices
    from aircolumn.study.tolerance import Band

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
        panel.set(xlabel=SPEED, ylabel=axis_words(first))
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
    """Mean torque over the range of interest against the first two keys."""
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
    panel.set(xlabel=axis_words(second), ylabel=axis_words(first))
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
        title = axis_words(plan.axes[0]) if shape else "case"
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
            f" within {100 * TIE:g} % of it (bars).\n{SHORT}"
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
    panel.set_ylabel(axis_words(plan.axes[k]), fontsize=8)


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
            panel.set(xlabel=axis_words(axis), ylabel=f"aim, {own.name}" if own.name else "aim")
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


def plot_indices(plan: Plan, aim: Aim, indices: Indices, base: Path) -> list:
    """Sobol indices as bars with their intervals."""
    at = np.arange(len(indices.names))
    with figure(1, figsize=(8.0, 1.8 + 0.7 * len(at))) as (fig, panel):
        for shift, values, wide, style, label in (
            (-0.18, indices.first, indices.first_wide, STYLES[0], "first order"),
            (0.18, indices.total, indices.total_wide, STYLES[4], "total, with interactions"),
        ):
            panel.barh(
                at + shift,
                values,
                0.34,
                xerr=wide,
                color=style["color"],
                label=label,
                error_kw={"capsize": 3, "elinewidth": 1.0},
            )
        panel.set_yticks(at, [axis_words(a).partition(",")[0] for a in plan.axes])
        panel.set_xlabel(f"share of the variance of {aim_words(aim)}")
        name_lines(panel)
        fig.supxlabel(SHORT, fontsize=8.5, color="#444444")
        return save(fig, base)


def plot_band(plan: Plan, band: Band, base: Path) -> list:
    """The curve as drawn with its tolerance band, and the band alone."""
    with figure(2, height_ratios=[1.5, 1.0]) as (fig, (top, below)):
        color, torque = STYLES[0]["color"], unit("torque")
        drawn, least, most = map(torque.of, (band.torque, band.torque_low, band.torque_high))
        top.fill_between(band.rpm, least, most, color="#b8c4de", label="within the tolerance")
        top.plot(band.rpm, drawn, label="as drawn", **STYLES[0])
        top.set_ylabel(f"brake torque, {torque.name}")
        top.set_title(heading(plan.engine.title, "Tolerance"))
        name_lines(top)
        low, high = least - drawn, most - drawn
        below.fill_between(band.rpm, low, high, color="#b8c4de")
        below.axhline(0.0, color=color, linewidth=0.8)
        below.set(ylabel=f"change of torque, {torque.name}", xlabel=SPEED)
        spans = ", ".join(f"{a.name} +-{a.high:g} {a.unit}" for a in plan.axes)
        fig.supxlabel(f"Band: {band.curves} curves within {spans}. {SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)
