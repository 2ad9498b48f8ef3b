"""Studies as text and tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import interest
from aircolumn.curves.summary import TIE
from aircolumn.display_units import column_heading, counted, unit, unit_of
from aircolumn.output.curves.text import sparse_words
from aircolumn.output.data_files import write_netcdf, write_rows
from aircolumn.output.study.best import aim_text, best_file, search_text
from aircolumn.output.tables import fitted, listed
from aircolumn.study import ties
from aircolumn.study.aims import KINDS, aim_words
from aircolumn.study.cells import cells_text
from aircolumn.study.sensitivity import NARROW, count_needed, unsettled
from aircolumn.study.session import Searched, Sensitive
from aircolumn.study.study_to_xarray import band_dataset, indices_dataset, search_dataset
from aircolumn.study.sweep import Sweep, best_per_speed
from aircolumn.study.tolerance import Band

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.models import Aim
    from aircolumn.study.plan import Plan
    from aircolumn.study.search import RunnerSearch, SearchResult
    from aircolumn.study.sensitivity import Indices
    from aircolumn.study.session import StudyAnswer

MOST_FAILURES = 8


def counts_text(answer: StudyAnswer) -> str:
    """What was computed now and what was there before."""
    rate = ""
    if answer.fresh and answer.seconds > 0.0:
        rate = f" ({answer.fresh / answer.seconds:.1f} per second)"
    fresh = counted(answer.fresh, "point")
    text = f"{fresh} computed{rate}, {answer.before} taken from {answer.store}"
    if answer.aside:
        text += (
            f"\n{answer.store} was damaged and is now called {answer.aside.name}; points that"
            " could still be read were kept, the others computed again"
        )
    elif answer.damaged:
        texts = counted(answer.damaged, "damaged point")
        text += f"\n{answer.store} held {texts}: computed again"
    if answer.others:
        text += (
            f"\n{answer.others} points there belong to another engine file, study or solver version"
            " and are not used"
        )
    return text


def answer_text(plan: Plan, answer: StudyAnswer) -> str:
    """The answer; the same however often the study was stopped."""
    text, result = _TEXTS[type(answer.result)](plan, answer.result), answer.result
    if isinstance(result, (Sweep, Searched)):
        sweep = isinstance(result, Sweep)
        again = result.again if isinstance(result, Sweep) else result.found.again
        cells = cells_text(answer.cells, counted(again, "point" if sweep else "curve"))
    else:
        cells = "" if answer.cells.final is None else str(answer.cells.final)
    span = interest(plan.engine.speeds, plan.speeds)
    sparse = sparse_words(span, plan.speeds) if span is not None else ""
    note = f"The mean {span.words} is {sparse}." if span and sparse else ""
    return "\n\n".join(filter(None, (text.rstrip("\n"), note, cells)))


def missing_points(answer: StudyAnswer) -> tuple[int, int]:
    """(how many points of a sweep failed, of how many)."""
    if not isinstance(answer.result, Sweep):
        return 0, 0
    return len(answer.result.failures), answer.result.data.torque.size


def write_study_tables(plan: Plan, answer: StudyAnswer, folder: Path, origin: dict[str, str]) -> None:
    """study.csv and study.nc, and failed.csv if points failed, into ``folder``; origin: attributes
    that say where they come from."""
    result = answer.result
    if isinstance(result, Sweep):
        write_sweep(result.data, folder / "study.csv")
        if result.failures:
            write_failures(plan, result.failures, folder / "failed.csv")
        data = result.data
    elif isinstance(result, Searched):
        write_known(result.search, result.found, folder / "study.csv")
        (folder / "study-best.yaml").write_text(best_file(plan, result.found), encoding="utf-8")
        data = search_dataset(result.search, result.found)
    elif isinstance(result, Sensitive):
        write_indices(result.indices, folder / "study.csv")
        data = indices_dataset(plan, result.aim, result.indices)
    else:
        write_band(plan, result, folder / "study.csv")
        data = band_dataset(plan, result)
    # The date would make a study that was stopped differ from one that was not.
    write_netcdf(
        data.assign_attrs({k: v for k, v in origin.items() if k in ("version", "file")}), folder / "study.nc"
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
    text = f"Most torque at each speed (cases within {100 * TIE:g} % of it count as level)\n" + fitted(
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
        f" {span.words} changes by {100 * mean:.2f} % at most, and torque at any one"
        f" speed by {100 * single:.1f} %."
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


def sensitivity_text(aim: Aim, indices: Indices, count: int) -> str:
    """Indices, the most telling key first; count: of samples."""
    order = np.argsort(-indices.total)
    rows = [
        [
            indices.names[k],
            f"{indices.first[k]:.3f}",
            f"{indices.first_wide[k]:.3f}",
            f"{indices.total[k]:.3f}",
            f"{indices.total_wide[k]:.3f}",
        ]
        for k in order
    ]
    head = (
        f"{aim_words(aim)}: {aim_text(aim, indices.mean)} on average over the spans, standard"
        f" deviation {aim_text(aim, indices.deviation)}\n"
    )
    note = "first order: share of the variance that the key makes alone; total: with its interactions"
    table = fitted(["key", "first order", "+-", "total", "+-"], rows)
    return "\n".join(filter(None, (head + table, note, unsettled_text(indices, count))))


def unsettled_text(indices: Indices, count: int) -> str:
    """Indices that cannot be as they stand, and the count that would do."""
    doubts = unsettled(indices)
    if not doubts:
        return ""
    reasons = [
        f"{listed([n for n, r in doubts.items() if r == why])} ({why})"
        for why in dict.fromkeys(doubts.values())
    ]
    return (
        f"Too few samples: {'; '.join(reasons)}. With count: {count_needed(indices, count)} the"
        f" intervals would be about +-{NARROW:g}."
    )


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


def axis_heading(name: Any, written: str) -> str:
    """The heading of a varied key, in the unit it was written in."""
    return name if written in ("", "1") else f"{name} [{written}]"


def _axis_heads(plan: Plan) -> list[str]:
    return [axis_heading(a.name, a.unit) for a in plan.axes]


def write_failures(
    plan: Plan, failures: Sequence[tuple[tuple[float, float], float, str]], path: Path
) -> None:
    """The points that failed as CSV."""
    write_rows(
        path,
        [*_axis_heads(plan), "rpm", "reason"],
        [[*values, rpm, reason] for values, rpm, reason in failures],
    )


def write_known(search: RunnerSearch, found: SearchResult, path: Path) -> None:
    """Every curve a search computed as CSV."""
    plan, torque = search.plan, unit("torque")
    units = [unit(KINDS[a.of]) for a in search.aims]
    heads = [
        *_axis_heads(plan),
        *(column_heading(aim_words(a), u) for a, u in zip(search.aims, units, strict=True)),
        *(column_heading(f"over the limit at {v.at:.0f} rpm", torque) for v in search.asked.limits),
        "keeps limits",
    ]
    rows = [
        [
            *plan.scaled([k.share])[0],
            *(float(u.of(v)) for u, v in zip(units, k.aims, strict=True)),
            *(float(torque.of(v)) for v in k.margins),
            "yes" if k.fits else "no",
        ]
        for k in found.known
    ]
    write_rows(path, heads, rows)


def write_indices(indices: Indices, path: Path) -> None:
    """Sensitivity indices as CSV."""
    rows = zip(
        indices.names, indices.first, indices.first_wide, indices.total, indices.total_wide, strict=True
    )
    heads = ["key", "first order", "half-width of first order", "total", "half-width of total"]
    write_rows(path, heads, rows)


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


_TEXTS = {
    Sweep: lambda plan, s: sweep_text(plan, s.data, s.failures),
    Searched: lambda plan, s: search_text(s.search, s.found),
    Sensitive: lambda p, s: sensitivity_text(s.aim, s.indices, p.study.sensitivity.count),
    Band: tolerance_text,
}
