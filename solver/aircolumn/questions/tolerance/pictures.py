"""The picture of a tolerance study."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.plots import SPEED, figure, heading, name_lines, save

if TYPE_CHECKING:
    from aircolumn.questions.tolerance.tolerance import Band
    from aircolumn.study.plan import Plan


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
