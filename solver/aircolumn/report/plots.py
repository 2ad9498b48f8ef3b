"""Plots: colour-blind-safe, told apart in grey print by line style and marker."""

from contextlib import contextmanager
from typing import Any

import matplotlib
import numpy as np

matplotlib.use("Agg")
import matplotlib.pyplot as plt
from matplotlib.patheffects import withStroke
from matplotlib.ticker import PercentFormatter
from scipy.interpolate import PchipInterpolator

from aircolumn.curves.labelled import shown_ve
from aircolumn.curves.summary import all_crossings, interest_range, mean_over, peak
from aircolumn.report.caution import SHORT

# From dark to light, so that grey print keeps an order; checked for the common colour blindnesses
# by their differing lightness.
STYLES: list[dict[str, Any]] = [
    {"color": "#14213d", "linestyle": "-", "marker": "o"},
    {"color": "#b3541e", "linestyle": "--", "marker": "s"},
    {"color": "#2a9d8f", "linestyle": "-.", "marker": "^"},
    {"color": "#8a6fb3", "linestyle": ":", "marker": "D"},
    {"color": "#c9a227", "linestyle": (0, (6, 2, 1, 2, 1, 2)), "marker": "v"},
]
STEPS = 12  # drawn between two points
LOOK: Any = {
    "figure.figsize": (8.0, 8.4),
    "figure.dpi": 110,
    "savefig.dpi": 150,
    "font.size": 10,
    "axes.grid": True,
    "grid.color": "#d9d9d9",
    "grid.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 1.8,
    "lines.markersize": 4.5,
    "svg.hashsalt": "aircolumn",
}


@contextmanager
def figure(panels: int, **kwargs):
    """A figure of stacked panels in the project's look; closed afterwards."""
    with plt.rc_context(LOOK):
        fig, axes = plt.subplots(panels, 1, layout="constrained", **{"sharex": True, **kwargs})
        try:
            yield fig, axes
        finally:
            plt.close(fig)


def save(fig, base) -> list:
    """Write ``base``.png and ``base``.svg; returns the paths."""
    paths = [base.with_suffix(".png"), base.with_suffix(".svg")]
    fig.savefig(paths[0])
    fig.set_layout_engine("none")  # laid out once is enough
    fig.savefig(paths[1], metadata={"Date": None})
    return paths


def plot_runners(data, speeds, base, manifolds=()) -> list:
    """VE and torque of all runners against speed, as ``base``.png and .svg.

    Peaks are ringed, torque crossings marked on the speed axis, the range of interest shaded and
    the mean over it given in the legend. What switchable manifolds give lies broad and pale behind.
    """
    rpm = data.rpm.values
    span = interest_range(speeds, rpm)
    with figure(2) as (fig, axes):
        ve, density = shown_ve(data)
        for m in manifolds:
            for panel, values in zip(axes, (m.ve, m.torque), strict=True):
                panel.plot(m.rpm, values, color="#b0b0b0", linewidth=8, alpha=0.5, marker="",
                           zorder=0.5, label=m.name)  # fmt: skip
        for panel, name in zip(axes, (ve, "torque"), strict=True):
            _curves(panel, data, name, span)
        axes[0].set_ylabel(f"volumetric efficiency\n(trapped air, {density} reference)")
        axes[0].yaxis.set_major_formatter(PercentFormatter(1.0, decimals=0))
        axes[1].set_ylabel("brake torque, N m")
        axes[1].set_xlabel("engine speed, rev/min")
        _mark_crossings(axes[1], sorted(at for _, _, at in all_crossings(data, "torque")))
        axes[0].set_title(data.attrs.get("title") or "Volumetric efficiency and torque")
        fig.supxlabel(_caption(data, span), fontsize=8.5, color="#444444")
        return save(fig, base)


def plot_cylinders(data, base) -> list:
    """VE of every cylinder against speed, one panel a runner, as ``base``.png and .svg."""
    runners = list(data.runner.values)
    with figure(len(runners), squeeze=False) as (fig, axes):
        for panel, runner in zip(axes[:, 0], runners, strict=True):
            one = data.sel(runner=runner)
            for k, number in enumerate(data.cylinder.values):
                style = {**STYLES[k % len(STYLES)], "fillstyle": "full" if k < 5 else "none"}
                panel.plot(one.rpm, one.ve_cylinder.sel(cylinder=number), label=number, **style)
            panel.set_ylabel(f"{runner}: VE of each cylinder")
            panel.yaxis.set_major_formatter(PercentFormatter(1.0, decimals=0))
            panel.legend(title="cylinder", ncols=2, fontsize=8)
        axes[0, 0].set_title(data.attrs.get("title") or "Cylinders")
        axes[-1, 0].set_xlabel("engine speed, rev/min")
        fig.supxlabel(SHORT, fontsize=8.5, color="#444444")
        return save(fig, base)


def plot_map(data, base) -> list:
    """VE as contours over speed and runner length or bore, with ridge and rules of thumb, as
    ``base``.png and .svg."""
    vary = data.attrs["vary"]
    length = 1e3 * data[vary].values
    with figure(1, figsize=(8.5, 6.8)) as (fig, axes):
        ve = np.ma.masked_invalid(100 * data.ve.values)
        filled = axes.contourf(data.rpm, length, ve, levels=16, cmap="cividis")
        fig.colorbar(filled, ax=axes, label="volumetric efficiency, % (ambient reference)")
        lines = axes.contour(data.rpm, length, ve, levels=8, colors="white", linewidths=0.5)
        axes.clabel(lines, fontsize=7, fmt="%.0f")
        axes.plot(data.ridge, length, "o", color="white", markeredgecolor="black",
                  label=f"highest VE at this {vary}")  # fmt: skip
        rule = {"color": "#b3541e", "linewidth": 1.6}
        for k, style in zip(data.k.values, ("-", "--"), strict=True):
            text = f"neck and volume, K = {k:g}"
            axes.plot(data.neck_and_volume.sel(k=k), length, style, label=text, **rule)
        for order in data.order.values:
            label = "quarter wave, by order" if order == data.order.values[0] else None
            speed = data.quarter_wave.sel(order=order).values
            axes.plot(speed, length, ":", color="white", linewidth=1.6, label=label)
            inside = np.flatnonzero((speed > data.rpm.values[0]) & (speed < data.rpm.values[-1]))
            if inside.size:
                k = inside[len(inside) // 2]
                outline = [withStroke(linewidth=3, foreground="black")]
                axes.annotate(f"{order}", (speed[k], length[k]), color="white", fontsize=10,
                              path_effects=outline)  # fmt: skip
        axes.set(xlim=(data.rpm[0], data.rpm[-1]), ylim=(length[0], length[-1]),
                 xlabel="engine speed, rev/min", ylabel=f"runner {vary}, mm")  # fmt: skip
        axes.set_title(data.attrs.get("title") or "Tuning map")
        axes.legend(fontsize=8, loc="upper right", labelcolor="white", facecolor="#333333")
        blank = "Blank: could not be computed. " if np.any(ve.mask) else ""
        caption = (
            f"Circles: the highest VE at each {vary}. Lines: what the rules of thumb say.\n"
            f"{blank}{SHORT}"
        )
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def plot_account(data, base) -> list:
    """What each effect does to VE against speed (above), and VE (below), as ``base``.png, .svg."""
    rpm = data.rpm.values
    with figure(2, height_ratios=[2.2, 1.0]) as (fig, (top, below)):
        for k, entry in enumerate(data.entry.values):
            style = {**STYLES[k % len(STYLES)], "fillstyle": "full" if k < len(STYLES) else "none"}
            top.plot(rpm, 100 * data.account.values[k], label=str(entry), **style)
        top.axhline(0.0, color="#555555", linewidth=0.8)
        top.set_ylabel("points of VE given (+) or taken (-)")
        top.set_title(data.attrs.get("title") or "Filling account")
        top.legend(fontsize=8, ncols=2, loc="upper center", bbox_to_anchor=(0.5, -0.04))
        below.plot(rpm, data.ve.values, **STYLES[0])
        below.set_ylabel("volumetric efficiency")
        below.yaxis.set_major_formatter(PercentFormatter(1.0, decimals=0))
        below.set_xlabel("engine speed, rev/min")
        caption = (
            "The entries add up to VE - 100 %. Effects interact: in another order single entries"
            f" would differ.\n{SHORT}"
        )
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def _curves(panel, data, name, span):
    rpm = data.rpm.values
    if span:
        panel.axvspan(*span, color="#f0ead6", zorder=0, linewidth=0)
    for k, runner in enumerate(data.runner.values):
        values = data[name].sel(runner=runner).values
        style = STYLES[k % len(STYLES)]
        label = str(runner)
        if span:
            mean = mean_over(rpm, values, *span)
            known = f"{100 * mean:.1f} %" if name != "torque" else f"{mean:.1f} N m"
            label += " (mean not known)" if np.isnan(mean) else f" (mean {known})"
        through_points(panel, rpm, values, label=label, **style)
        gaps = rpm[np.isnan(values)]
        panel.plot(gaps, np.full(gaps.size, 0.02 + 0.03 * k), "x", color=style["color"],
                   transform=panel.get_xaxis_transform())  # fmt: skip
        if gaps.size == rpm.size:
            continue
        top = peak(rpm, values)
        panel.plot(top.rpm, top.value, marker="o", markersize=12, fillstyle="none",
                   color=style["color"])  # fmt: skip
        text = f"{100 * top.value:.1f} %" if name != "torque" else f"{top.value:.0f} N m"
        panel.annotate(text, (top.rpm, top.value), xytext=(0, 10), textcoords="offset points",
                       ha="center", fontsize=9, color=style["color"],
                       path_effects=[withStroke(linewidth=3, foreground="white")])  # fmt: skip
    panel.margins(y=0.12)
    panel.legend(loc="best", frameon=True, framealpha=0.9, edgecolor="none")


def through_points(panel, rpm, values, **style):
    """A smooth curve (PCHIP) through computed points, which carry the markers; it breaks where a
    point is missing."""
    x, y, at = [], [], []
    for piece in np.ma.clump_unmasked(np.ma.masked_invalid(values)):
        own, height = rpm[piece], values[piece]
        between = np.linspace(own[:-1], own[1:], STEPS, endpoint=False).T.ravel()
        fine = np.append(between, own[-1])
        at += [len(x) + STEPS * k for k in range(own.size)]
        x += [*fine, np.nan]
        y += [*(PchipInterpolator(own, height)(fine) if own.size > 1 else height), np.nan]
    return panel.plot(x, y, markevery=at, **style)


def _mark_crossings(panel, speeds):
    """Dotted lines; a number where there is room for one."""
    last, room = -np.inf, 0.025 * np.diff(panel.get_xlim())[0]
    for at in speeds:
        panel.axvline(at, color="#777777", linewidth=0.9, linestyle=(0, (2, 3)))
        if at - last > room:
            panel.annotate(f"{at:.0f}", (at, 0.99), xycoords=("data", "axes fraction"), fontsize=8,
                           rotation=90, ha="right", va="top", color="#555555")  # fmt: skip
            last = at


def _caption(data, span) -> str:
    text = "Markers: computed points. Rings: the highest of them.\n"
    if span:
        text += f"Shaded: range of interest, {span[0]:.0f} to {span[1]:.0f} rev/min. "
    if all_crossings(data, "torque"):
        text += "Dotted: speeds at which torque curves cross. "
    gaps = np.any(np.isnan(data.ve.values))
    crosses = "\nCrosses: speeds that could not be computed. " if gaps else "\n"
    return text.strip() + crosses + SHORT
