"""A measured pull with the prediction laid over it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import unit
from aircolumn.engine.description.base import required
from aircolumn.measured.atmosphere import title_of
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import SPEED, figure, heading, in_legend, name_lines, save

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from aircolumn.measured.overlay import Overlay
    from aircolumn.measured.session import Session

MEASURED: Any = {"linestyle": "", "markersize": 5.5, "capsize": 2.5, "elinewidth": 1.0}


def plot_pull(s: Session, base: Path) -> list:
    """VE, torque and what the prediction is off by; below, for two manifolds, their difference.
    Writes ``base``.png and .svg."""
    panels = 4 if s.verdict is not None else 3
    with figure(panels, figsize=(9.5, 3.0 * panels), squeeze=False) as (fig, axes):
        top, middle, low = axes[:3, 0]
        for k, (name, o) in enumerate(s.overlays.items()):
            _overlay(top, name, o, k, "ve", None)
            _overlay(middle, name, o, k, "torque", o.torque_half_width)
            _residuals(low, name, o, s.calibrated.get(name), k)
        title = title_of(s.standard)
        top.set_ylabel("volumetric efficiency, %\n(referred to the air drawn in)")
        top.set_title(heading(s.description.engine.title, "Measured and predicted"))
        middle.set_ylabel(f"brake torque, {unit('torque').name}\n({title})")
        low.axhline(0.0, color="#555555", linewidth=0.8)
        low.set_ylabel("torque: predicted less\nmeasured, %")
        for panel in (top, middle, low):
            name_lines(panel)
        if s.verdict is not None:
            _difference(axes[3, 0], s)
        axes[-1, 0].set_xlabel(SPEED)
        fig.supxlabel(_caption(s), fontsize=8.5, color="#444444")
        return save(fig, base)


def _overlay(panel: Axes, name: str, o: Overlay, k: int, what: str, wide: np.ndarray | None) -> None:
    style, shown = STYLES[k % len(STYLES)], unit("share" if what == "ve" else what)
    read, values = ~o.curve.between, shown.of(getattr(o, what))
    bars = None if wide is None or np.all(np.isnan(wide)) else shown.of(wide)[read]
    panel.errorbar(
        o.curve.rpm[read],
        values[read],
        yerr=bars,
        color=style["color"],
        marker=style["marker"],
        label=in_legend(f"{name}, measured"),
        **MEASURED,
    )
    panel.plot(
        o.curve.rpm[~read],
        values[~read],
        color=style["color"],
        marker=style["marker"],
        linestyle="",
        fillstyle="none",
        alpha=0.6,
    )
    panel.plot(
        o.curve.rpm,
        shown.of(getattr(o, f"{what}_predicted")),
        color=style["color"],
        linestyle=style["linestyle"],
        label=in_legend(f"{name}, predicted"),
    )


def _residuals(panel: Axes, name: str, o: Overlay, calibrated: Overlay | None, k: int) -> None:
    style, read = STYLES[k % len(STYLES)], ~o.curve.between
    rpm = o.curve.rpm[read]
    panel.plot(rpm, 100 * o.torque_off[read], label=in_legend(name), **style)
    if calibrated is not None:
        panel.plot(
            rpm,
            100 * calibrated.torque_off[read],
            label=in_legend(f"{name}, calibrated"),
            **{**style, "fillstyle": "none", "linewidth": 1.0},
        )


def _difference(panel: Axes, s: Session) -> None:
    v, (a, b) = required(s.verdict), list(s.overlays)
    rpm = v.rpm
    torque = unit("torque")
    bars, texts = None, "measured"
    if not np.all(np.isnan(v.least)):
        bars, texts = torque.of(v.least), "measured (bars: smallest\nsignificant difference)"
    panel.errorbar(
        rpm, torque.of(v.torque), yerr=bars, color=STYLES[0]["color"], marker="o", label=texts, **MEASURED
    )
    first, second = (np.interp(rpm, o.curve.rpm, o.torque_predicted) for o in s.overlays.values())
    panel.plot(rpm, torque.of(first - second), color=STYLES[1]["color"], linestyle="--", label="predicted")
    for k in np.flatnonzero(~v.comparable):
        half = 0.5 * np.min(np.diff(rpm)) if len(rpm) > 1 else 50.0
        panel.axvspan(rpm[k] - half, rpm[k] + half, color="#e3e3e3", zorder=0, linewidth=0)
    panel.axhline(0.0, color="#555555", linewidth=0.8)
    panel.set_ylabel(f"torque: {a} less {b},\n{torque.name}")
    name_lines(panel)


def _caption(s: Session) -> str:
    repeated = any(o.curve.pulls > 1 for o in s.overlays.values())
    text = "Points: measured" + (", bars: 95 % interval of the mean" if repeated else "")
    if any(o.curve.between.any() for o in s.overlays.values()):
        text += ", hollow: on a line between readings"
    text += ". Lines: predicted."
    if s.verdict is not None and not np.all(s.verdict.comparable):
        text += " Grey: more than the manifold changed."
    return f"{text}\n{SHORT}"
