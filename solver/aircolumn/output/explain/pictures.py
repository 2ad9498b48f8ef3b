"""Humps and dips of the VE curves, and the waves that made them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.explain.text import ZERO
from aircolumn.output.plots import (
    SPEED,
    figure,
    heading,
    label_ends,
    line_style,
    name_lines,
    save,
)

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

    from aircolumn.curves.tuning.explain import Cause, Extremum

ARROW = (
    "Waves at the intake valve. Arrow: from the launch of the suction wave to its return as"
    " compression, by the travel time."
)


def plot_explanation(curves: dict, explanations: dict, title: str, base: Path) -> list:
    """VE with humps and dips marked, then the waves at the valve at each runner's best hump.

    curves: {name: (rpm, ve)}; told as for explain_text. Writes ``base``.png and .svg.
    """
    best = {name: _highest_hump(items) for name, items in explanations.items()}
    shown = {name: item for name, item in best.items() if item is not None}
    with figure(1 + len(shown), figsize=(8.5, 4.0 + 3.0 * len(shown)), sharex=False) as (fig, axes):
        axes = np.atleast_1d(axes)
        _curves(axes[0], curves, explanations, title)
        for panel, (name, (e, cause, cycle)) in zip(axes[1:], shown.items(), strict=True):
            _waves(panel, name, e.kind, cause, cycle)
        fig.supxlabel(f"{ARROW}\n{ZERO} {SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)


def plot_events(name: str, items: Sequence[tuple[Extremum, Cause, xr.Dataset]], base: Path) -> list:
    """The waves at the valve at every hump and dip of a runner, as ``base``.png and .svg."""
    with figure(len(items), figsize=(8.5, 1.0 + 2.9 * len(items)), squeeze=False) as (fig, axes):
        for panel, (e, cause, cycle) in zip(axes[:, 0], items, strict=True):
            _waves(panel, name, e.kind, cause, cycle)
        fig.supxlabel(f"{ARROW}\n{ZERO} {SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)


def _highest_hump(
    items: Sequence[tuple[Extremum, Cause, xr.Dataset]],
) -> tuple[Extremum, Cause, xr.Dataset] | None:
    humps = [item for item in items if item[0].kind == "hump"]
    return max(humps, key=lambda item: item[0].ve) if humps else None


def _curves(
    panel: Axes, curves: dict[str, tuple[np.ndarray, np.ndarray]], explanations: dict[str, Any], title: str
) -> None:
    labels = []
    for k, (name, (rpm, ve)) in enumerate(curves.items()):
        style = {**line_style(k), "marker": ""}
        values = unit("share").of(ve)
        panel.plot(rpm, values, **style)
        for e, _, _ in explanations[name]:
            mark = "^" if e.kind == "hump" else "v"
            panel.plot(e.rpm, unit("share").of(e.ve), mark, color=style["color"], markersize=8)
        labels.append((rpm, values, name, style["color"]))
    panel.set(
        xlabel=f"{SPEED} (triangles: humps and dips)",
        ylabel="VE, % (ambient reference)",
        title=heading(title, "Humps and dips"),
    )
    label_ends(panel, labels)


def _waves(panel: Axes, name: str, kind: str, c: Cause, cycle: xr.Dataset) -> None:
    at_valve = cycle.isel(distance=-1)
    reference = cycle.attrs["reference_pressure_Pa"]
    for k, (key, label) in enumerate((("forward", "arriving"), ("backward", "running back"))):
        values = unit("pressure").of(at_valve[key] - reference)
        panel.plot(cycle.angle, values, label=label, **{**STYLES[k], "marker": ""})
    low, high = panel.get_ylim()
    panel.set_ylim(low - 0.22 * (high - low), high)
    at = low - 0.08 * (high - low)
    panel.annotate("", (c.due, at), (c.launch, at), arrowprops={"arrowstyle": "->"})
    panel.annotate(
        f"{c.travel:.0f} deg",
        (0.5 * (c.launch + c.due), at),
        xytext=(0, -11),
        textcoords="offset points",
        ha="center",
        fontsize=8,
    )
    panel.axvspan(cycle.attrs["intake_opens"], c.shuts, color="#f0ead6", zorder=0, linewidth=0)
    panel.axhline(0.0, color="#555555", linewidth=0.8)
    panel.set(
        xlim=(270, 720),
        xlabel="crank angle, deg (shaded: intake valve open)",
        ylabel=f"{unit('pressure').name} over plenum mean",
    )
    panel.set_title(f"{name}: {kind} at {c.rpm:.0f} rpm, VE {unit('share').said(c.ve)}", fontsize=10)
    name_lines(panel)
