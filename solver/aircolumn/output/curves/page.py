"""What the page shows of curves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.interest import Range, all_speeds, interest
from aircolumn.curves.summary import TIE, runner_mean
from aircolumn.curves.to_xarray import shown_figure, shown_ve
from aircolumn.display_units import percent, shown_number, unit
from aircolumn.output.curves.text import LEVEL, leader, not_located, requested_speeds_only, verdict, with_unit
from aircolumn.output.page import charts
from aircolumn.point_figures import compared

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.computing import Speeds


def curve_charts(data: xr.Dataset, span: Range | None) -> list[dict]:
    """VE, torque and power of every runner, as they were asked for."""
    ve, density = shown_ve(data)
    (torque, stated), (power, _) = shown_figure(data, "torque"), shown_figure(data, "power")
    return [
        charts.chart(
            name,
            f"{what[0].upper()}{what[1:]} against engine speed",
            title,
            kind,
            [
                charts.line(runner, data.rpm.values, data[figure].sel(runner=runner).values, charts.look(k))
                for k, runner in enumerate(data.runner.values)
            ],
            span=span,
        )
        for name, what, title, kind, figure in (
            ("ve", "volumetric efficiency", f"volumetric efficiency ({density} density)", "share", ve),
            ("torque", "torque", f"brake torque ({stated})", "torque", torque),
            ("power", "power", f"brake power ({stated})", "power", power),
        )
    ]


def figures_table(
    data: xr.Dataset, figures: Sequence[str] | None = None
) -> tuple[list[str], list[list[str]]]:
    """Figures of every runner at the speeds asked for (left out: VE, torque and power): headings and rows."""
    asked = requested_speeds_only(data)
    names = [str(n) for n in data.runner.values]
    shown = {n: with_unit(n) for n in figures or ()}
    if figures is None:
        shown = {shown_ve(data)[0]: f"VE {unit('share').name}"}
        shown |= {shown_figure(data, n)[0]: with_unit(n) for n in compared()[1:]}
    heads = ["rpm", *(f"{n} {heading}" for heading in shown.values() for n in names)]
    rows = []
    for k, rpm in enumerate(asked.rpm.values):
        values = [shown_number(f, asked[f].sel(runner=n).values[k]) for f in shown for n in names]
        rows.append([f"{rpm:.0f}", *("not known" if v == "nan" else v for v in values)])
    return heads, rows


def recommendation(data: xr.Dataset, speeds: Speeds) -> dict:
    """{answer, facts}: which runner for the range that matters, and what that rests on."""
    rpm = data.rpm.values
    span = interest(speeds, rpm) or all_speeds(rpm)
    figure, stated = shown_figure(data, "torque")
    torque = unit("torque")
    means = np.array([runner_mean(data, figure, n, span) for n in data.runner.values])
    several = span.start < span.stop
    where = span.words if several else f"at {rpm[0]:.0f} rpm"
    best = leader(means)
    if best >= 0:
        second = np.sort(means[np.isfinite(means)])[-2]
        mean = f"{torque.said(means[best])}{' on average' if several else ''}"
        answer = (
            f"{data.runner.values[best]} makes the most torque {where}: {mean} ({stated}),"
            f" {torque.said(means[best] - second)} more than the next."
        )
    else:
        answer = (
            f"No runner leads {where}: the best are within {percent(TIE)} of each other,"
            " which is treated as a tie."
        )
    facts = [*verdict(data, speeds).splitlines(), not_located(data), data.attrs["cells"], *LEVEL]
    return {"answer": answer, "facts": [fact for fact in facts if fact]}
