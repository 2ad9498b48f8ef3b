"""A measured pull with the prediction laid over it."""

import numpy as np
from matplotlib.ticker import PercentFormatter

from aircolumn.dyno.atmosphere import STANDARDS
from aircolumn.report.caution import SHORT
from aircolumn.report.plots import STYLES, figure, save

MEASURED = {"linestyle": "", "markersize": 5.5, "capsize": 2.5, "elinewidth": 1.0}


def plot_pull(s, base) -> list:
    """VE, torque and what the prediction is off by; below, for two manifolds, their difference.
    Writes ``base``.png and .svg."""
    panels = 4 if s.verdict is not None else 3
    with figure(panels, figsize=(8.5, 3.0 * panels), squeeze=False) as (fig, axes):
        top, middle, low = axes[:3, 0]
        for k, (name, o) in enumerate(s.overlays.items()):
            _overlay(top, name, o, k, "ve", None)
            _overlay(middle, name, o, k, "torque", o.torque_half_width)
            _residuals(low, name, o, s.calibrated.get(name), k)
        title = STANDARDS[s.standard].title
        top.set_ylabel("volumetric efficiency\n(at the air drawn)")
        top.yaxis.set_major_formatter(PercentFormatter(1.0, decimals=0))
        top.set_title(s.description.engine.title or "Measured and predicted")
        middle.set_ylabel(f"brake torque, N m\n({title})")
        low.axhline(0.0, color="#555555", linewidth=0.8)
        low.set_ylabel("torque: predicted less\nmeasured, %")
        for panel in (top, middle, low):
            panel.legend(fontsize=8, ncols=2, framealpha=0.9, edgecolor="none")
        if s.verdict is not None:
            _difference(axes[3, 0], s)
        axes[-1, 0].set_xlabel("engine speed, rev/min")
        fig.supxlabel(_caption(s), fontsize=8.5, color="#444444")
        return save(fig, base)


def _overlay(panel, name, o, k, what, wide):
    style = STYLES[k % len(STYLES)]
    bars = None if wide is None or np.all(np.isnan(wide)) else wide
    panel.errorbar(o.curve.rpm, getattr(o, what), yerr=bars, color=style["color"],
                   marker=style["marker"], label=f"{name}, measured", **MEASURED)  # fmt: skip
    panel.plot(o.curve.rpm, getattr(o, f"{what}_predicted"), color=style["color"],
               linestyle=style["linestyle"], label=f"{name}, predicted")  # fmt: skip


def _residuals(panel, name, o, calibrated, k):
    style = STYLES[k % len(STYLES)]
    panel.plot(o.curve.rpm, 100 * o.torque_off, label=name, **style)
    if calibrated is not None:
        panel.plot(o.curve.rpm, 100 * calibrated.torque_off, label=f"{name}, calibrated",
                   **{**style, "fillstyle": "none", "linewidth": 1.0})  # fmt: skip


def _difference(panel, s):
    v, (a, b) = s.verdict, list(s.overlays)
    rpm = v.rpm
    bars = None if np.all(np.isnan(v.least)) else v.least
    panel.errorbar(rpm, v.torque, yerr=bars, color=STYLES[0]["color"], marker="o",
                   label="measured, with what it must exceed", **MEASURED)  # fmt: skip
    first, second = (
        np.interp(rpm, o.curve.rpm, o.torque_predicted) for o in s.overlays.values()
    )  # fmt: skip
    panel.plot(rpm, first - second, color=STYLES[1]["color"], linestyle="--", label="predicted")
    for k in np.flatnonzero(~v.comparable):
        half = 0.5 * np.min(np.diff(rpm)) if len(rpm) > 1 else 50.0
        panel.axvspan(rpm[k] - half, rpm[k] + half, color="#e3e3e3", zorder=0, linewidth=0)
    panel.axhline(0.0, color="#555555", linewidth=0.8)
    panel.set_ylabel(f"torque: {a} less {b},\nN m")
    panel.legend(fontsize=8, framealpha=0.9, edgecolor="none")


def _caption(s) -> str:
    text = "Marks: measured, bars: 95 % interval of the mean. Lines: predicted."
    if s.verdict is not None and not np.all(s.verdict.comparable):
        text += " Grey: more than the manifold differed."
    return f"{text}\n{SHORT}"
