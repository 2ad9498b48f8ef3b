"""How a sweep is shown: the best at every speed, what failed, every point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.summary import TIE
from aircolumn.display_units import column_heading, counted, percent, unit, unit_of
from aircolumn.output.data_files import write_rows
from aircolumn.output.page.charts import SPEED, chart, chart_of_map, known, line, look
from aircolumn.output.plain import LabelledTable
from aircolumn.output.tables import fitted, listed
from aircolumn.questions.kind import Question
from aircolumn.questions.sweep import ties
from aircolumn.questions.sweep.cuts import cut_of, mean_torque, shown_curves
from aircolumn.questions.sweep.sweep import Sweep, best_per_speed, swept
from aircolumn.questions.sweep.ties import best_case
from aircolumn.questions.words import Values, axis_heading, axis_heads, axis_scale, plain_values

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.questions.kind import Work
    from aircolumn.study.plan import Plan

MOST_FAILURES = 8


@dataclass(frozen=True)
class FailedCase:
    """A point that could not be computed."""

    values: Values
    rpm: float
    reason: str


@dataclass(frozen=True)
class SweepFound:
    """The best case on average, every point, what failed."""

    best: Values | None
    data: LabelledTable
    failures: list[FailedCase]


class SweepQuestion(Question[Sweep]):
    """Every case at every speed."""

    name = "sweep"
    found = SweepFound

    def ask(self, plan: Plan, work: Work) -> Sweep:
        """All cases at all speeds."""
        return swept(plan, work.cells, work.store, work.executor, work.progress)

    def text(self, plan: Plan, result: Sweep) -> str:
        """The best case at every speed and over the range that matters, and what failed."""
        return sweep_text(plan, result.data, result.failures)

    def again(self, result: Sweep) -> str:
        """What of the best was computed again."""
        return counted(result.again, "point")

    def missing(self, result: Sweep) -> tuple[int, int]:
        """How many points failed, of how many."""
        return len(result.failures), result.data.torque.size

    def tables(self, plan: Plan, result: Sweep, folder: Path) -> xr.Dataset:
        """study.csv, and failed.csv if points failed."""
        write_sweep(result.data, folder / "study.csv")
        if result.failures:
            write_failures(plan, result.failures, folder / "failed.csv")
        return result.data

    def draw(self, plan: Plan, result: Sweep, folder: Path) -> list:
        """Contours, the family of curves, the best at each speed."""
        from aircolumn.questions.sweep.pictures import plot_sweep  # slow to load

        return plot_sweep(plan, result.data, folder)

    def page(self, plan: Plan, result: Sweep) -> tuple[str, str, list[dict[str, Any]]]:
        """The question, the answer and the charts."""
        data = result.data
        charts = [_best(data), *_maps(plan, data), _family(plan, data)]
        varied = " and ".join(a.said.partition(",")[0] for a in plan.axes)
        texts = "\n".join(filter(None, (best_on_average(plan, data), no_effect_text(plan, data))))
        return f"What do other values of {varied} do?", texts, charts

    def plain(self, plan: Plan, result: Sweep) -> SweepFound:
        """The best case, the points, what failed."""
        best = best_case(plan, result.data)
        return SweepFound(
            None if best is None else plain_values(plan, plan.rows[best]),
            LabelledTable.of(result.data),
            [FailedCase(plain_values(plan, row), rpm, why) for row, rpm, why in result.failures],
        )


def sweep_text(
    plan: Plan, data: xr.Dataset, failures: Sequence[tuple[tuple[float, float], float, str]]
) -> str:
    """The best case at every speed and over the range that matters, and what failed."""
    values, _ = best_per_speed(data)
    torque = unit("torque")
    table = data.torque.values.reshape(-1, data.sizes["rpm"])
    failed, alike = np.isnan(table).sum(axis=0), ties.level(table)
    lines = []
    for k, (rpm, value) in enumerate(zip(data.rpm.values, values, strict=True)):
        among = np.flatnonzero(alike[:, k])
        where = ties.level_words(plan, among) if among.size else "all failed"
        count = [f"{failed[k]} of {len(plan.rows)}"] if failures else []
        lines.append([f"{rpm:.0f}", torque.number(value), *count, where])
    heads = ["rpm", f"torque {torque.name}", *(["failed"] if failures else []), "with"]
    text = f"Most torque at each speed (cases within {percent(TIE)} of it count as level)\n" + fitted(
        heads, lines
    )
    texts = (text, best_on_average(plan, data), no_effect_text(plan, data), failures_text(plan, failures))
    return "\n\n".join(t for t in texts if t)


def best_on_average(plan: Plan, data: xr.Dataset) -> str:
    """The cases with the most torque on average over the range that matters, or over all speeds;
    says so where the best stands at the edge of the range tried."""
    rpm = data.rpm.values
    if rpm.size < 2:
        return ""
    means, span = ties.means_of(plan, data), ties.range_of(plan, rpm)
    if not np.isfinite(means).any():
        return ""
    among = np.flatnonzero(ties.level(means))
    texts = (
        f"Most torque on average {span.words}:"
        f" {unit('torque').said(np.nanmax(means))} with"
        f" {ties.level_words(plan, among)}"
    )
    best = plan.rows[int(np.nanargmax(means))]
    idle = {name for name, *_ in ties.without_effect(plan, data)}
    ends = [
        axis.name
        for axis, value in zip(plan.axes, best, strict=True)
        if plan.grid_shape() and axis.name not in idle and axis.is_edge(value)
    ]
    return texts + (f" ({listed(ends)}: at the edge of the range tried)" if ends else "")


def no_effect_text(plan: Plan, data: xr.Dataset) -> str:
    """Which keys do not matter, and how little they do."""
    if data.sizes["rpm"] < 2:
        return ""
    span = ties.range_of(plan, data.rpm.values)
    return "\n".join(
        f"{name[0].upper()}{name[1:]} does not matter here: over the range tried, mean torque"
        f" {span.words} changes by {percent(mean, '.2f')} at most, and torque at any one"
        f" speed by {percent(single, '.1f')}."
        for name, mean, single in ties.without_effect(plan, data)
    )


def failures_text(plan: Plan, failures: Sequence[tuple[tuple[float, float], float, str]]) -> str:
    """The points that failed and why."""
    if not failures:
        return ""
    lines = [f"{counted(len(failures), 'point')} failed, listed in failed.csv"]
    for values, rpm, reason in failures[:MOST_FAILURES]:
        lines.append(f"  {plan.case_words(values)}, {rpm:.0f} rpm: {reason}")
    if len(failures) > MOST_FAILURES:
        lines.append(f"  and {len(failures) - MOST_FAILURES} more")
    return "\n".join(lines)


def write_sweep(data: xr.Dataset, path: Path) -> None:
    """Every point of a sweep as CSV: varied keys in their units, figures in those shown."""
    table = data.to_dataframe().reset_index()
    axes = [c for c in data.coords if c not in ("case", "rpm")]
    columns, heads = [], []
    if "case" in data.dims:
        columns, heads = [table["case"]], ["case"]
    for name in axes:
        columns.append(table[name])
        heads.append(axis_heading(name, data[name].attrs["units"]))
    columns.append(table["rpm"])
    heads.append("rpm")
    for name in data.data_vars:
        own = unit_of(str(name), data[name].attrs["units"])
        columns.append(own.of(table[name].values))
        heads.append(column_heading(str(name), own))
    write_rows(path, heads, zip(*columns, strict=True))


def write_failures(
    plan: Plan, failures: Sequence[tuple[tuple[float, float], float, str]], path: Path
) -> None:
    """The points that failed as CSV."""
    write_rows(
        path,
        [*axis_heads(plan), "rpm", "reason"],
        [[*values, rpm, reason] for values, rpm, reason in failures],
    )


def _best(data: xr.Dataset) -> dict:
    values, _ = best_per_speed(data)
    return chart(
        "torque",
        "The most torque at each speed",
        "brake torque",
        "torque",
        [line("best at each speed", data.rpm.values, values, look(0))],
    )


def _maps(plan: Plan, data: xr.Dataset) -> list[dict]:
    """VE over speed and the first key; mean torque over the first two."""
    shape = plan.grid_shape()
    numeric = [a for a in plan.axes if a.values and not isinstance(a.values[0], str)]
    if not shape or not numeric or numeric[0] is not plan.axes[0] or data.sizes["rpm"] < 2:
        return []
    first, rpm = plan.axes[0], data.rpm.values
    cut, texts = cut_of(plan, data)
    at = f" at {texts}" if texts else ""
    made = [
        chart_of_map(
            "map",
            f"Volumetric efficiency{at}",
            SPEED,
            axis_scale(first),
            "volumetric efficiency",
            "share",
            {"x": known(rpm), "y": known(first.values), "z": cut.ve.values},
        )
    ]
    if len(shape) > 1 and numeric[1:] and numeric[1] is plan.axes[1] and min(shape[:2]) > 1:
        second = plan.axes[1]
        mean, span = mean_torque(plan, data)
        label = f"Mean torque {span.words}"
        made.append(
            chart_of_map(
                "mean",
                label,
                axis_scale(second),
                axis_scale(first),
                "mean torque",
                "torque",
                {"x": known(second.values), "y": known(first.values), "z": mean},
            )
        )
    return made


def _family(plan: Plan, data: xr.Dataset) -> dict:
    cut, texts = cut_of(plan, data) if plan.grid_shape() else (data, "")
    rows = cut.torque.values.reshape(-1, data.sizes["rpm"])
    names = plan.axes[0].values if plan.grid_shape() else plan.case_names
    title = "brake torque" + (f" ({texts})" if texts else "")
    return chart(
        "family",
        "Torque of single cases",
        title,
        "torque",
        [
            line(
                names[k] if isinstance(names[k], str) else f"{names[k]:.4g}",
                data.rpm.values,
                rows[k],
                look(n),
            )
            for n, k in enumerate(shown_curves(len(rows)))
        ],
    )


QUESTION = SweepQuestion()
