"""How sure a comparison is, as a picture: bands of all runners, and their gains against one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.display_units import unit
from aircolumn.output import SHORT
from aircolumn.output.plots import (
    SPEED,
    figure,
    heading,
    label_ends,
    line_style,
    save,
    shade,
    smooth_band,
    through_points,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from aircolumn.study.bands.session import HowSure
    from aircolumn.study.bands.verdict import Interval

PALE = 0.22  # opacity of a band


def plot_bands(found: HowSure, title: str, base: Path) -> list:
    """Torque with its band over speed; below, what every other runner gains and loses. As ``base``.png and
    .svg."""
    v, names, torque = found.verdict, found.curves.runners, unit("torque")
    rows = 2 if v.against else 1
    with figure(rows, figsize=(9.5, 4.6 * rows + 0.6), squeeze=False) as (fig, grid):
        panels = grid[:, 0]
        _panel(panels[0], found, {n: (v.bands[n], line_style(names.index(n))) for n in names})
        panels[0].set_ylabel(f"torque, {torque.name}")
        panels[0].set_title(heading(title, "Torque"))
        if v.against:
            panels[1].axhline(0.0, color=line_style(names.index(v.base))["color"], linewidth=1.2)
            gains = {a.runner: (a.at, line_style(names.index(a.runner))) for a in v.against}
            _panel(panels[1], found, gains)
            panels[1].set_ylabel(f"torque minus that of {v.base}, {torque.name}")
            panels[1].set_title(f"Torque against {v.base}")
        panels[-1].set_xlabel(SPEED)
        stated = f"Shaded: range that matters, {v.span.words}. " if len(v.ranges) > 1 else ""
        lower = f"Where a band below is clear of the line at 0 ({v.base}), the sign is beyond doubt.\n"
        lower = lower if v.against else ""
        fig.supxlabel(
            f"{stated}Lines: the engine as the file has it. Bands: 95 of 100 engines that fit the file"
            f" ({len(v.means)} computed).\n{lower}{SHORT}",
            fontsize=8.5,
            color="#444444",
        )
        return save(fig, base)


def _panel(panel: Axes, found: HowSure, lines: dict[str, tuple[Interval, dict]]) -> None:
    v, rpm, torque, labels = found.verdict, found.curves.rpm, unit("torque"), []
    shade(panel, v.span if len(v.ranges) > 1 else None)
    for name, (one, style) in lines.items():
        low, middle, high = (torque.of(x) for x in (one.low, one.middle, one.high))
        smooth_band(panel, rpm, low, high, color=style["color"], alpha=PALE)
        through_points(panel, rpm, middle, label=name, **style)
        labels.append((rpm, middle, name, style["color"]))
    panel.margins(y=0.06)
    label_ends(panel, labels)
