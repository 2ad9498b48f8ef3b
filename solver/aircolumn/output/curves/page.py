"""What the page shows of curves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.choice import choice_of
from aircolumn.curves.to_xarray import shown_figure, shown_ve
from aircolumn.display_units import shown_number, unit
from aircolumn.output.curves.choice import choice_sentences, how_sure_sentence
from aircolumn.output.curves.text import LEVEL, not_located, requested_speeds_only, verdict, with_unit
from aircolumn.output.page import charts
from aircolumn.point_figures import compared

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.against import Gain
    from aircolumn.curves.interest import Range
    from aircolumn.engine.description.computing import Speeds
    from aircolumn.study.bands.kept import KeptBands


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


def figures_tables(
    data: xr.Dataset, figures: Sequence[str] | None = None
) -> list[tuple[list[str], list[list[str]]]]:
    """Figures of every runner at the speeds asked for (left out: VE, torque and power): a table each, its
    headings and rows."""
    asked = requested_speeds_only(data)
    names = [str(n) for n in data.runner.values]
    shown = {n: with_unit(n) for n in figures or ()}
    if figures is None:
        shown = {shown_ve(data)[0]: f"VE {unit('share').name}"}
        shown |= {shown_figure(data, n)[0]: with_unit(n) for n in compared()[1:]}
    tables = []
    for figure, heading in shown.items():
        columns = [[shown_number(figure, v) for v in asked[figure].sel(runner=n).values] for n in names]
        rows = zip((f"{rpm:.0f}" for rpm in asked.rpm.values), *columns, strict=True)
        known = [["not known" if v == "nan" else v for v in row] for row in rows]
        tables.append((["rpm", *(f"{n} {heading}" for n in names)], known))
    return tables


def gains_chart(data: xr.Dataset, found: Sequence[Gain], span: Range | None) -> dict:
    """Torque of the other runners minus that of one."""
    names = [str(n) for n in data.runner.values]
    return charts.chart(
        "against",
        f"Torque against {found[0].base}",
        f"torque minus that of {found[0].base}",
        "torque",
        [charts.line(g.runner, g.rpm, g.torque, charts.look(names.index(g.runner))) for g in found],
        span=span,
    )


def gains_table(data: xr.Dataset, found: Sequence[Gain]) -> tuple[list[str], list[list[str]]]:
    """The same at the speeds asked for: headings and rows."""
    torque, asked = unit("torque"), requested_speeds_only(data).rpm.values
    at = np.flatnonzero(np.isin(found[0].rpm, asked))
    rows = [[f"{found[0].rpm[k]:.0f}", *(torque.number(g.torque[k], sign="+") for g in found)] for k in at]
    heads = ["rpm", *(f"{g.runner} minus {g.base}, {torque.name}" for g in found)]
    return heads, [["not known" if c == "+nan" else c for c in row] for row in rows]


def recommendation(data: xr.Dataset, speeds: Speeds, kept: KeptBands | None = None) -> dict:
    """{answer, facts}: which runner for the range that matters, what it costs, how sure that is; and what
    that rests on."""
    choice = choice_of(data, speeds)
    sure = how_sure_sentence(choice, kept)
    answer = [*choice_sentences(choice, shown_figure(data, "torque")[1]), *([sure] if sure else [])]
    facts = [*verdict(data, speeds).splitlines(), not_located(data), data.attrs["cells"], *LEVEL]
    return {"answer": answer, "facts": [fact for fact in facts if fact]}
