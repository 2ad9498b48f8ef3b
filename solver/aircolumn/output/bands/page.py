"""How sure a comparison is, as part of a page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.output.bands.text import against_lines, best_lines, how_found, next_lines
from aircolumn.output.page.charts import band, chart

if TYPE_CHECKING:
    from aircolumn.study.bands.session import HowSure


def sure(found: HowSure) -> list[list[str]]:
    """Sentences, a list for each paragraph."""
    v = found.verdict
    texts = [best_lines(v), next_lines(found)] if v.against else []
    return [*texts, *(against_lines(a, v) for a in v.against), how_found(found)]


def sure_charts(found: HowSure) -> list[dict[str, Any]]:
    """Bands and differences."""
    v, rpm = found.verdict, found.curves.rpm
    span = v.span if len(v.ranges) > 1 else None
    charts = [
        chart(
            "bands",
            "Torque, and where 95 of 100 engines that fit the file lie",
            "brake torque",
            "torque",
            [t for k, n in enumerate(v.bands) for t in band(n, rpm, v.bands[n], k)],
            span=span,
        )
    ]
    if v.against:
        names = found.curves.runners
        gains = [t for a in v.against for t in band(a.runner, rpm, a.at, names.index(a.runner))]
        title = f"Torque against {v.base}, and where 95 of 100 engines lie"
        charts.append(chart("gains", title, f"torque minus that of {v.base}", "torque", gains, span=span))
    return charts
