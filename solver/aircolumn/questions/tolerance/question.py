"""How a tolerance is shown: the band of torque and its slopes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import column_heading, unit
from aircolumn.output.data_files import write_rows
from aircolumn.output.page.charts import chart, line, look
from aircolumn.output.tables import fitted
from aircolumn.questions.kind import Question
from aircolumn.questions.tolerance.tolerance import Band, Tolerance, tolerance

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.questions.kind import Work
    from aircolumn.study.plan import Plan


@dataclass(frozen=True)
class ToleranceFound:
    """The band of the curves."""

    band: Band


class ToleranceQuestion(Question[Band]):
    """What small differences in making do to the torque."""

    name = "tolerance"
    found = ToleranceFound
    keys = Tolerance

    def ask(self, plan: Plan, work: Work) -> Band:
        """Curves within the tolerance."""
        return tolerance(plan.on(work.cells.final), work.store, work.executor, work.progress)

    def text(self, plan: Plan, result: Band) -> str:
        """The band at every speed and the slopes."""
        return tolerance_text(plan, result)

    def tables(self, plan: Plan, result: Band, folder: Path) -> xr.Dataset:
        """study.csv."""
        write_band(plan, result, folder / "study.csv")
        return band_dataset(plan, result)

    def draw(self, plan: Plan, result: Band, folder: Path) -> list:
        """The band."""
        from aircolumn.questions.tolerance.pictures import plot_band  # slow to load

        return plot_band(plan, result, folder / "study")

    def page(self, plan: Plan, result: Band) -> tuple[str, str, list[dict[str, Any]]]:
        """The question, the answer and the charts."""
        edges = {"colour": "#8a93a3", "dash": "solid", "mark": "circle"}
        made = chart(
            "torque",
            "Torque within the tolerance",
            "brake torque",
            "torque",
            [
                line("least", result.rpm, result.torque_low, edges, "lines"),
                line("most", result.rpm, result.torque_high, edges, "lines", fill=True),
                line("as drawn", result.rpm, result.torque, look(0)),
            ],
        )
        spans = ", ".join(f"{a.said.partition(',')[0]} +-{a.high:g} {a.unit}" for a in plan.axes)
        off = np.maximum(result.torque_high - result.torque, result.torque - result.torque_low)
        worst = int(np.argmax(off))
        texts = f"Torque moves by at most {unit('torque').said(off[worst])}, at {result.rpm[worst]:.0f} rpm."
        return f"What does {spans} do to the torque?", texts, [made]

    def plain(self, plan: Plan, result: Band) -> ToleranceFound:
        """The band."""
        return ToleranceFound(result)


def tolerance_text(plan: Plan, band: Band) -> str:
    """The band at every speed and the slopes."""
    torque = unit("torque")
    rows = []
    for k, rpm in enumerate(band.rpm):
        off = [v[k] - band.torque[k] for v in (band.torque_low, band.torque_high)]
        rows.append(
            [
                f"{rpm:.0f}",
                torque.number(band.torque[k]),
                *(torque.number(v, 2, "+") for v in off),
                *(torque.number(s[k], 2, "+") for s in band.slopes.values()),
            ]
        )
    heads = [f"{torque.name} per {a.unit or '1'} of {a.name}" for a in plan.axes]
    spans = ", ".join(f"{a.name} +-{a.high:g} {a.unit}" for a in plan.axes)
    title = f"Torque as drawn and within {spans} ({band.curves} curves)\n"
    return title + fitted(["rpm", f"torque {torque.name}", "least", "most", *heads], rows)


def write_band(plan: Plan, band: Band, path: Path) -> None:
    """A tolerance band as CSV."""
    torque, ve = unit("torque"), unit("share")
    slopes = [f"torque per {a.name} [{torque.name} per {a.unit or '1'}]" for a in plan.axes]
    heads = [
        "rpm",
        *(
            column_heading(f"{name}{part}", own)
            for name, own in (("torque", torque), ("ve", ve))
            for part in ("", ", least", ", most")
        ),
        *slopes,
    ]
    columns = [
        band.rpm,
        *map(torque.of, (band.torque, band.torque_low, band.torque_high)),
        *map(ve.of, (band.ve, band.ve_low, band.ve_high)),
        *map(torque.of, band.slopes.values()),
    ]
    write_rows(path, heads, zip(*columns, strict=True))


def band_dataset(plan: Plan, band: Band) -> xr.Dataset:
    """Torque and VE as drawn, their band, and the slopes."""
    import xarray as xr

    data = xr.Dataset(coords={"rpm": ("rpm", band.rpm, {"units": "rev/min"})})
    for name, units in (("torque", "N m"), ("ve", "1")):
        for part, meaning in (("", "as drawn"), ("_low", "least"), ("_high", "greatest")):
            about = {"units": units, "long_name": f"{name}, {meaning}"}
            data[name + part] = ("rpm", getattr(band, name + part), about)
    for axis in plan.axes:
        about = {
            "units": f"N m / {axis.unit}" if axis.unit else "N m",
            "long_name": f"change of torque with {axis.key}",
        }
        data[f"torque_per_{axis.name}"] = ("rpm", band.slopes[axis.name], about)
    data.attrs = {"title": plan.engine.title, "curves": band.curves}
    return data


QUESTION = ToleranceQuestion()
