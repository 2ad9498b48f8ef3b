"""Runners against one of them, as text, table and picture."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.against import Gain
from aircolumn.curves.interest import interest
from aircolumn.curves.summary import TIE
from aircolumn.curves.to_xarray import shown_figure
from aircolumn.display_units import column_heading, unit
from aircolumn.output import SHORT
from aircolumn.output.curves.text import requested_speeds_only
from aircolumn.output.data_files import digits, write_rows
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.computing import Speeds


def gains_text(data: xr.Dataset, found: Sequence[Gain]) -> str:
    """Torque gained at the speeds asked for, and what each runner gives and costs in sentences."""
    torque, base = unit("torque"), found[0].base
    asked = np.isin(found[0].rpm, requested_speeds_only(data).rpm.values)
    lines = [
        [f"{rpm:.0f}", *(torque.number(g.torque[k], sign="+") for g in found)]
        for k, rpm in enumerate(found[0].rpm)
        if asked[k]
    ]
    heads = ["rpm", *(f"{g.runner} {torque.name}" for g in found)]
    table = fitted(heads, lines)
    return "\n".join([f"\nTorque against {base}", table, "", *(_sentence(g) for g in found)])


def _sentence(gain: Gain) -> str:
    torque, share = unit("torque"), unit("share")
    parts = []
    for span, (mean, relative) in gain.means.items():
        over = span.words
        if np.isnan(mean):
            parts.append(f"not known {over}")
        elif abs(relative) < TIE:
            parts.append(f"level within {share.said(TIE)} {over}")
        else:
            parts.append(f"{torque.said(mean, sign='+')} ({share.said(relative, sign='+')}) {over}")
    ends = []
    known = gain.torque[np.isfinite(gain.torque)]
    if known.size and known.max() > 0.0:
        k = int(np.nanargmax(gain.torque))
        ends.append(f"gains most at {gain.rpm[k]:.0f} rpm ({torque.said(gain.torque[k], sign='+')})")
    if known.size and known.min() < 0.0:
        k = int(np.nanargmin(gain.torque))
        ends.append(f"loses most at {gain.rpm[k]:.0f} rpm ({torque.said(gain.torque[k], sign='+')})")
    means = f"mean torque {', '.join(parts)}" if parts else ""
    return f"{gain.runner} against {gain.base}: {'; '.join(filter(None, (means, ' and '.join(ends))))}"


def write_gains(found: Sequence[Gain], path: Path) -> None:
    """Torque gained as CSV, one row a speed."""
    torque = unit("torque")
    heads = [column_heading(f"torque of {g.runner} less {g.base}", torque) for g in found]
    rows = [
        [f"{rpm:.10g}", *(digits(float(torque.of(g.torque[k]))) for g in found)]
        for k, rpm in enumerate(found[0].rpm)
    ]
    write_rows(path, ["rpm", *heads], rows)


def plot_gains(data: xr.Dataset, found: Sequence[Gain], speeds: Speeds, base: Path) -> list:
    """Torque gained against speed, as ``base``.png and .svg; colours are those of the comparison."""
    from aircolumn.output.plots import (
        SPEED,
        figure,
        heading,
        label_ends,
        line_style,
        save,
        shade,
        through_points,
    )

    torque, names = unit("torque"), [str(n) for n in data.runner.values]
    against, (_, stated) = found[0].base, shown_figure(data, "torque")
    with figure(1, figsize=(9.5, 5.0)) as (fig, panel):
        span = interest(speeds, data.rpm.values)
        shade(panel, span)
        panel.axhline(0.0, color=line_style(names.index(against))["color"], linewidth=1.2)
        labels = []
        for gain in found:
            values, style = torque.of(gain.torque), line_style(names.index(gain.runner))
            through_points(panel, gain.rpm, values, label=gain.runner, **style)
            if np.isfinite(values).any():
                labels.append((gain.rpm, values, gain.runner, style["color"]))
        panel.margins(y=0.08)
        label_ends(panel, labels)
        panel.set_xlabel(SPEED)
        panel.set_ylabel(f"torque minus that of {against}, {torque.name}\n({stated})")
        panel.set_title(heading(data.attrs["title"], f"Torque against {against}"))
        shaded = f"Shaded: range that matters, {span.words}. " if span else ""
        fig.supxlabel(f"{shaded}Line at 0: {against}.\n{SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)
