"""A cylinder's measured pressure as a lab looks at it: against volume in double logarithms, and the burn."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import unit
from aircolumn.measured.traces.heat_release import SHARES
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import figure, save

if TYPE_CHECKING:
    from aircolumn.measured.traces.heat_release import HeatRelease
    from aircolumn.measured.traces.indicated import Indicated
    from aircolumn.measured.traces.session import TraceSession

MARGIN = 15.0  # deg, beside the burn
BELOW: dict[str, Any] = {"bbox_to_anchor": (0.5, -0.13), "frameon": False}  # curves go everywhere


def plot_indicated(session: TraceSession, title: str, base: Path) -> list[Path]:
    """``base``.png and .svg: p over V, and of a fired cylinder the share burned and its rate."""
    cylinder = session.cylinder
    assert cylinder is not None
    fired = cylinder.release is not None
    with figure(1, 1 + fired, sharex=False, figsize=(6.0 + 5.0 * fired, 5.2)) as (fig, panels):
        panels = np.ravel(panels)
        _pressure_over_volume(panels[0], session, cylinder.indicated)
        if cylinder.release is not None:
            _burn(panels[1], cylinder.release)
        fig.suptitle(f"{title}\n{session.path.name}, {session.rpm:.0f} rpm")
        fig.supxlabel(SHORT, fontsize=8.5, color="#444444")
        return save(fig, base)


def _pressure_over_volume(panel: Any, session: TraceSession, found: Indicated) -> None:
    kpa, size = unit("pressure"), unit("volume")
    k = next(k for k, c in enumerate(session.channels.values()) if c.place == "cylinder")
    lines = [
        ("measured", session.cycles.mean[k], found.exponents, STYLES[0]),
        ("model", session.model.signals[k], found.exponents_due, STYLES[1]),
    ]
    volume = size.of(np.append(session.model.volume, session.model.volume[0]))
    for name, pressure, slopes, style in lines:
        said = f"{name}: compression {slopes[0]:.2f}, expansion {slopes[1]:.2f}"
        shown = {q: v for q, v in style.items() if q != "marker"}
        panel.plot(volume, kpa.of(np.append(pressure, pressure[0])), label=said, **shown)
    panel.set(xscale="log", yscale="log", xlabel=f"volume, {size.name}", ylabel=f"pressure, {kpa.name}")
    for axis in (panel.xaxis, panel.yaxis):
        axis.set_major_formatter("{x:g}")
        axis.set_minor_formatter("")
    panel.legend(loc="upper center", title="slopes of the logarithms", **BELOW)


def _burn(panel: Any, release: HeatRelease) -> None:
    share, percent = unit("share"), release.share
    if len(percent) > 1:
        panel.plot(release.at, share.of(percent.T), color=STYLES[0]["color"], alpha=0.12, linewidth=0.6)
    panel.plot(release.at, share.of(percent.mean(axis=0)), label="measured, mean of the cycles",
               **{q: v for q, v in STYLES[0].items() if q != "marker"})  # fmt: skip
    panel.plot(
        release.due, share.of(np.array(SHARES)), "o", color=STYLES[1]["color"], label="model: 10, 50, 90 %"
    )
    first, last = (
        min(release.angles[:, 0].min(), release.due[0]),
        max(release.angles[:, 2].max(), release.due[2]),
    )
    panel.set(xlim=(first - MARGIN, last + 2.0 * MARGIN), ylim=(-5.0, 108.0))
    panel.set(xlabel="crank angle, deg after firing top dead centre", ylabel="burned, % of all that burns")
    panel.axhline(50.0, color="#888888", linewidth=0.8)
    panel.legend(loc="upper center", **BELOW)
