"""Both valves' lift curves as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.valves import TABLE_ANGLES, TABLE_LEAD, lift_curve
from aircolumn.output import SHORT, STYLES
from aircolumn.output.check.valve_timing import TOP, sides, stated_lift
from aircolumn.output.plots import figure, save

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine


def plot_valve_lift(engine: Engine, title: str, base: Path) -> list:
    """Both lift curves over crank angle with the points that the cards state, as ``base``.png and
    .svg."""
    size = unit("length")
    with figure(1, figsize=(9.0, 5.2)) as (fig, panel):
        for look, one in zip(STYLES, sides(engine, geometry_of(engine)), strict=False):
            name, valve, events, seats = one
            lift = size.of(lift_curve(valve, *events))
            angle = events[0] - TABLE_LEAD + TABLE_ANGLES - TOP
            off = (angle >= seats[0] - TOP - 1.0) & (angle <= seats[1] - TOP + 1.0)
            panel.plot(
                angle[off],
                lift[off],
                color=look["color"],
                linestyle=look["linestyle"],
                marker="",
                label=f"{name} valve, {seats[1] - seats[0]:.0f} deg seat to seat",
            )
            if valve.lift.highest is not None:
                at = size.of(max(valve.lift.events_lift - valve.lift.lash, 0.0))
                label = f"{name} card: {events[1] - events[0]:.0f} deg {stated_lift(valve.lift)}"
                panel.plot(
                    np.array(events) - TOP,
                    [at, at],
                    color=look["color"],
                    linestyle="",
                    marker=look["marker"],
                    markersize=8,
                    label=label,
                )
        for at, centre in ((-180.0, "BDC"), (0.0, "TDC"), (180.0, "BDC")):
            panel.axvline(at, color="#999999", linewidth=0.8, zorder=0)
            panel.annotate(
                centre,
                (at, 1.0),
                (3, -3),
                xycoords=("data", "axes fraction"),
                textcoords="offset points",
                va="top",
                fontsize=8,
                color="#666666",
            )
        panel.set(
            xlabel="crank angle, deg after top dead centre (end of the exhaust stroke)",
            xticks=np.arange(-270.0, 271.0, 90.0),
            ylabel=f"valve lift, {size.name}",
            title=title,
        )
        panel.set_ylim(bottom=0.0)
        panel.margins(y=0.05)
        panel.legend(loc="upper center", bbox_to_anchor=(0.5, -0.14), ncols=2, fontsize=8.5, frameon=False)
        fig.supxlabel(
            f"Lift at the valve. Marks: the events as the cam card states them.\n{SHORT}",
            fontsize=8.5,
            color="#444444",
        )
        return save(fig, base)
