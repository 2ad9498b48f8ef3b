"""Plots: colour-blind-safe, told apart in grey print by line style and marker."""

from contextlib import contextmanager
from textwrap import fill
from typing import Any

import matplotlib
import numpy as np

matplotlib.use("Agg")
import matplotlib.pyplot as plt
from matplotlib.patheffects import withStroke

from aircolumn.curves.labelled import own_curve, shown_figure, shown_ve
from aircolumn.curves.summary import all_crossings, interest_range, peak, runner_mean
from aircolumn.report.caution import SHORT
from aircolumn.report.tables import FEW
from aircolumn.shown import unit

# From dark to light, so that grey print keeps an order; checked for the common colour blindnesses
# by their differing lightness.
STYLES: list[dict[str, Any]] = [
    {"color": "#14213d", "linestyle": "-", "marker": "o"},
    {"color": "#b3541e", "linestyle": "--", "marker": "s"},
    {"color": "#2a9d8f", "linestyle": "-.", "marker": "^"},
    {"color": "#8a6fb3", "linestyle": ":", "marker": "D"},
    {"color": "#c9a227", "linestyle": (0, (6, 2, 1, 2, 1, 2)), "marker": "v"},
]
#: from a label to the end of its line
LEADER: Any = {"arrowstyle": "-", "linewidth": 0.6, "alpha": 0.6, "relpos": (0.0, 0.5),
               "shrinkA": 1.0, "shrinkB": 4.0}  # fmt: skip
STEPS = 12  # drawn between two points
SPEED = "engine speed, rpm"
#: (kind of quantity, decimals of a peak) of VE, torque and power
PANELS = (("share", 1), ("torque", 0), ("power", 1))
LOOK: Any = {
    "figure.figsize": (8.0, 8.4),
    "figure.dpi": 110,
    "savefig.dpi": 150,
    "font.size": 10,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#d9d9d9",
    "grid.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 1.8,
    "lines.markersize": 4.5,
    "svg.hashsalt": "aircolumn",
}


@contextmanager
def figure(panels: int, columns: int = 1, **kwargs):
    """A figure of stacked panels in the project's look; closed afterwards."""
    with plt.rc_context(LOOK):
        fig, axes = plt.subplots(
            panels, columns, layout="constrained", **{"sharex": True, **kwargs}
        )
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
    """VE, torque and power of all runners against speed, as ``base``.png and .svg.

    Peaks are ringed, torque crossings marked on the speed axis, the range of interest shaded; at
    the end of each line stand its runner, its peak and the mean over the range of interest. What
    switchable manifolds give lies broad and pale behind.
    """
    rpm = data.rpm.values
    span = interest_range(speeds, rpm)
    with figure(3, figsize=(9.5, 10.5), height_ratios=(3, 3, 2)) as (fig, axes):
        ve, density = shown_ve(data)
        (torque, stated), (power, _) = shown_figure(data, "torque"), shown_figure(data, "power")
        for m in manifolds:
            switched = unit("share").of(m.ve), unit("torque").of(m.torque)
            for panel, values in zip(axes[:2], switched, strict=True):
                panel.plot(m.rpm, values, color="#b0b0b0", linewidth=8, alpha=0.5, marker="",
                           zorder=0.5, label=m.name)  # fmt: skip
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


def plot_cylinders(data, base) -> list:
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


def plot_map(data, base) -> list:
    """VE as contours over speed and runner length or bore, with ridge and rules of thumb, as
    ``base``.png and .svg."""
    vary = data.attrs["vary"]
    length = unit("length").of(data[vary].values)
    with figure(1, figsize=(8.5, 6.8)) as (fig, axes):
        ve = np.ma.masked_invalid(100 * data.ve.values)
        contours(fig, axes, data.rpm, length, ve, "volumetric efficiency, % (ambient reference)")
        axes.plot(data.ridge, length, "o", color="white", markeredgecolor="black", clip_on=False,
                  zorder=5, label=f"highest VE at this {vary}")  # fmt: skip
        rule = {"color": "#b3541e", "linewidth": 1.6}
        for k, style in zip(data.k.values, ("-", "--"), strict=True):
            text = f"neck and volume, K = {k:g}"
            axes.plot(data.neck_and_volume.sel(k=k), length, style, label=text, **rule)
        for order in data.order.values:
            label = "quarter wave, by order" if order == data.order.values[0] else None
            speed = data.quarter_wave.sel(order=order).values
            axes.plot(speed, length, ":", color="white", linewidth=1.8, label=label,
                      path_effects=[withStroke(linewidth=3.2, foreground="black")])  # fmt: skip
            inside = np.flatnonzero((speed > data.rpm.values[0]) & (speed < data.rpm.values[-1]))
            if inside.size:
                k = inside[len(inside) // 2]
                outline = [withStroke(linewidth=3, foreground="black")]
                axes.annotate(f"{order}", (speed[k], length[k]), color="white", fontsize=10,
                              path_effects=outline)  # fmt: skip
        axes.set(xlim=(data.rpm[0], data.rpm[-1]), ylim=(length[0], length[-1]),
                 xlabel=SPEED, ylabel=f"runner {vary}, {unit('length').name}")  # fmt: skip
        axes.set_title(heading(data.attrs["title"], "Tuning map"))
        axes.legend(fontsize=8, loc="upper center", bbox_to_anchor=(0.5, -0.09), ncols=2,
                    labelcolor="white", facecolor="#555555")  # fmt: skip
        blank = "Blank: could not be computed. " if np.any(ve.mask) else ""
        caption = (
            f"Circles: the highest VE at each {vary}. Lines: what the rules of thumb say.\n"
            f"{blank}{SHORT}"
        )
        fig.supxlabel(caption, fontsize=8.5, color="#444444")
        return save(fig, base)


def contours(fig, panel, x, y, values, label):
    """Filled contours over x and y with their own levels named on the lines, by a light outline
    that reads on any of the colours, well inside the panel."""
    values = np.ma.masked_invalid(values)
    filled = panel.contourf(x, y, values, levels=16, cmap="cividis")
    fig.colorbar(filled, ax=panel, label=label)
    panel.grid(visible=False)
    lines = panel.contour(x, y, values, levels=filled.levels[::2], colors="black", linewidths=0.5)
    (left, right), (low, high) = ((min(v), max(v)) for v in (np.asarray(x), np.asarray(y)))
    inside = []
    for path in lines.get_paths():
        for piece in path.to_polygons(closed_only=False):
            share = (piece - (left, low)) / (right - left, high - low)
            away = np.min(np.minimum(share, 1.0 - share), axis=1)
            if np.ptp(share, axis=0).max() > 0.15 and away.max() > 0.06:
                inside.append(tuple(piece[int(np.argmax(away))]))
    digits = 0 if np.min(np.diff(filled.levels)) >= 1.0 else 1
    for text in panel.clabel(lines, fontsize=8, fmt=f"%.{digits}f", manual=inside or False):
        text.set_rotation(0.0)  # upright: 98 stood on its head reads as 86
        text.set_path_effects([withStroke(linewidth=2, foreground="white")])


def plot_account(data, base) -> list:
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


def _curves(panel, data, name, span, shown_in, decimals, means):
    """The lines of one figure; shown_in: its unit; decimals: of a peak; means: whether to name
    those over ``span``."""
    rpm, few = data.rpm.values, data.sizes["runner"] <= FEW
    if span:
        panel.axvspan(*span, color="#f0ead6", zorder=0, linewidth=0)
    labels = []
    for k, runner in enumerate(data.runner.values):
        values = shown_in.of(data[name].sel(runner=runner).values)
        style = line_style(k)
        label = str(runner)
        if span and means:
            mean = float(shown_in.of(runner_mean(data, name, runner, span)))
            label += (
                " (mean not known)" if np.isnan(mean) else f" (mean {mean:.1f} {shown_in.name})"
            )
        through_points(panel, rpm, values, label=label, **style)
        gaps = rpm[np.isnan(values)]
        panel.plot(gaps, np.full(gaps.size, 0.02 + 0.03 * k), "x", color=style["color"],
                   transform=panel.get_xaxis_transform())  # fmt: skip
        if gaps.size == rpm.size:
            continue
        one = own_curve(data, runner)
        top = peak(one.rpm.values, shown_in.of(one[name].values))
        panel.plot(top.rpm, top.value, marker="o", markersize=12, fillstyle="none",
                   color=style["color"])  # fmt: skip
        said = [str(runner), f"{top.value:.{decimals}f} {shown_in.name} at {top.rpm:.0f}"]
        said += [label.partition(" (")[2].rstrip(")")] if span and means else []
        text = plain("\n".join(said) if few else ": ".join(said[:2]))
        labels.append((rpm, values, text, style["color"]))
    panel.margins(y=0.08)
    label_ends(panel, labels)


def line_style(k: int) -> dict:
    """Style of line ``k``: colour, dash and marker together repeat after 25 lines."""
    if k < len(STYLES):
        return STYLES[k]
    turn, n = divmod(k, len(STYLES))
    dash = STYLES[(n + turn) % len(STYLES)]["linestyle"]
    mark = STYLES[(n + 2 * turn) % len(STYLES)]["marker"]
    return {"color": STYLES[n]["color"], "linestyle": dash, "marker": mark, "fillstyle": "none"}


def label_ends(panel, lines):
    """Texts to the right of the panel, each beside the end of its line, moved apart where they
    would overlap. lines: (x, y, text, colour), x and y of a whole line; one without a known point
    gets no text."""
    labels = []
    for x, y, text, colour in lines:
        known = np.flatnonzero(np.isfinite(y))
        if known.size:
            labels.append(((x[known[-1]], y[known[-1]]), text, colour))
    if not labels:
        return
    low, high = panel.get_ylim()
    lines = 1 + max(text.count("\n") for _, text, _ in labels)
    size = 8.5 if len(labels) * lines <= 18 else 7.0
    need = 1.25 * size * lines / 72.0 / (0.8 * panel.bbox.height / panel.figure.dpi)
    order = sorted(range(len(labels)), key=lambda k: labels[k][0][1])
    last = len(order) - 1
    places = [(labels[k][0][1] - low) / (high - low) for k in order]
    places = spread([min(p, 1.0 - (last - k) * need) for k, p in enumerate(places)], need)
    for k, place in zip(order, places, strict=True):
        end, text, colour = labels[k]
        panel.annotate(text, end, xytext=(1.03, place), textcoords="axes fraction", fontsize=size,
                       va="center", color=colour, annotation_clip=False, linespacing=1.05,
                       arrowprops={**LEADER, "color": colour})  # fmt: skip


def spread(places, need):
    """Rising ``places`` moved as little as need be to lie ``need`` apart (pools of neighbours share
    their mean, as in isotonic regression)."""
    pools: list[list[float]] = []  # [sum of places less their offsets, count]
    for k, place in enumerate(places):
        pools.append([place - k * need, 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += count
    means = [total / count for total, count in pools for _ in range(int(count))]
    return [mean + k * need for k, mean in enumerate(means)]


def in_legend(text: str) -> str:
    """A name that legends show: matplotlib hides those that begin with an underscore, and takes
    dollar signs for mathematics."""
    return plain(f" {text}" if text.startswith("_") else text)


def name_lines(panel, **more):
    """The legend, to the right of the panel: it covers no line."""
    panel.legend(fontsize=8, loc="upper left", bbox_to_anchor=(1.0, 1.02), frameon=False, **more)


def plain(text: str) -> str:
    """Text in which a dollar sign is one, and no sign of mathematics."""
    return text.replace("$", r"\$")


def heading(title: str, otherwise: str) -> str:
    """The engine's title for a picture, over several lines if it is long."""
    return plain(fill(title or otherwise, 70))


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
        y += [*(_smooth(own, height, fine) if own.size > 1 else height), np.nan]
    return panel.plot(x, y, markevery=at, **style)


def _smooth(x, y, at):
    from scipy.interpolate import PchipInterpolator  # slow to load, and not needed for one point

    return PchipInterpolator(x, y)(at)


def _mark_crossings(panel, speeds):
    """Dotted lines; a number where there is room for one."""
    last, room = -np.inf, 0.025 * np.diff(panel.get_xlim())[0]
    for at in speeds:
        panel.axvline(at, color="#777777", linewidth=0.9, linestyle=(0, (2, 3)))
        if at - last > room:
            text = panel.annotate(f"{at:.0f}", (at, 0.99), xycoords=("data", "axes fraction"),
                                  fontsize=8, rotation=90, ha="right", va="top", color="#333333",
                                  zorder=6)  # fmt: skip
            text.set_path_effects([withStroke(linewidth=2, foreground="white")])
            last = at


def _caption(data, span, manifolds) -> str:
    text = "Markers: computed points. Rings: peak values, labelled at the right.\n"
    if span:
        text += f"Shaded: range of interest, {span[0]:.0f} to {span[1]:.0f} rpm. "
    if data.sizes["runner"] <= FEW and all_crossings(data, "torque"):
        text += "Dotted: speeds at which torque curves cross. "
    if manifolds:
        text += f"Wide pale bands: {', '.join(m.name for m in manifolds)}. "
    gaps = np.any(np.isnan(data.ve.values))
    crosses = "\nCrosses: speeds that could not be computed. " if gaps else "\n"
    return text.strip() + crosses + SHORT
