"""Studies as text and tables."""

import numpy as np

from aircolumn.curves.summary import interest_range, mean_over
from aircolumn.report.files import write_netcdf, write_rows
from aircolumn.report.tables import grid, listed
from aircolumn.study.aims import shown, words
from aircolumn.study.session import Searched, Sensitive
from aircolumn.study.sweep import Sweep, best_per_speed
from aircolumn.study.tolerance import Band

MOST_FAILURES = 8


def case_words(axes, values) -> str:
    """Values of the axes in words."""
    return ", ".join(
        f"{a.name} {v if isinstance(v, str) else format(v, '.4g')} {a.unit}".rstrip()
        for a, v in zip(axes, values, strict=True)
    )


def answer_text(plan, answer) -> str:
    """What was computed, and the answer."""
    rate = ""
    if answer.fresh and answer.seconds > 0.0:
        rate = f", {answer.fresh / answer.seconds:.1f} a second"
    head = f"{answer.fresh} points computed{rate}; {answer.before} were in {answer.store}"
    if answer.others:
        head += (
            f"\n{answer.others} of them belong to another engine file, study or solver version and"
            " are not used"
        )
    return f"{head}\n\n{_TEXTS[type(answer.result)](plan, answer.result)}"


def write_tables(plan, answer, folder):
    """study.csv, and for a sweep study.nc, and failed.csv if points failed, into ``folder``."""
    result = answer.result
    if isinstance(result, Sweep):
        write_netcdf(result.data, folder / "study.nc")
        write_sweep(result.data, folder / "study.csv")
        if result.failures:
            write_failures(plan, result.failures, folder / "failed.csv")
    elif isinstance(result, Searched):
        write_known(result.search, result.found, folder / "study.csv")
    elif isinstance(result, Sensitive):
        write_indices(result.indices, folder / "study.csv")
    else:
        write_band(result, folder / "study.csv")


def sweep_text(plan, data, failures) -> str:
    """The best case at every speed and over the range that matters, and what failed."""
    values, best = best_per_speed(data)
    lines = []
    for rpm, value, k in zip(data.rpm.values, values, best, strict=True):
        where = "all failed" if k < 0 else case_words(plan.axes, plan.cases[k].values)
        lines.append([f"{rpm:.0f}", f"{value:.1f}", where])
    text = "Most torque at each speed\n" + grid(["rpm", "torque N m", "with"], lines)
    texts = (text, _best_on_average(plan, data), failures_text(plan, failures))
    return "\n\n".join(t for t in texts if t)


def _best_on_average(plan, data) -> str:
    """The case with the most torque on average over the range that matters, or over all speeds;
    says so where it stands at an end of what was tried."""
    rpm = data.rpm.values
    if rpm.size < 2:
        return ""
    low, high = interest_range(plan.engine.speeds, rpm) or (float(rpm[0]), float(rpm[-1]))
    table = data.torque.values.reshape(-1, rpm.size)
    means = np.array([mean_over(rpm, torque, low, high) for torque in table])
    if not np.isfinite(means).any():
        return ""
    best = plan.cases[int(np.nanargmax(means))].values
    said = (f"Most torque on average from {low:.0f} to {high:.0f} rpm: {np.nanmax(means):.1f} N m"
            f" with {case_words(plan.axes, best)}")  # fmt: skip
    ends = [axis.name for axis, value in zip(plan.axes, best, strict=True)
            if plan.grid_shape() and not isinstance(value, str) and len(axis.values) > 2
            and value in (min(axis.values), max(axis.values))]  # fmt: skip
    return said + (f" ({listed(ends)}: at the end of what was tried)" if ends else "")


def failures_text(plan, failures) -> str:
    """The points that failed and why."""
    if not failures:
        return ""
    lines = [f"{len(failures)} points failed, all in failed.csv"]
    for values, rpm, reason in failures[:MOST_FAILURES]:
        lines.append(f"  {case_words(plan.axes, values)}, {rpm:.0f} rpm: {reason}")
    if len(failures) > MOST_FAILURES:
        lines.append(f"  and {len(failures) - MOST_FAILURES} more")
    return "\n".join(lines)


def search_text(search, found) -> str:
    """The winner, what a step away from it costs, the re-check and the front."""
    plan, aims = search.plan, search.aims
    best = found.best.aims[0]
    lines = [
        f"Best {words(aims[0])}: {shown(aims[0], best)} with {case_words(plan.axes, found.values)}",
        f"({len(found.known)} curves looked at; on cells and step halved"
        f" {shown(aims[0], found.recheck)}, {100 * (found.recheck / best - 1):+.2f} %)",
    ]
    for limit, margin in zip(search.asked.limits, found.best.margins, strict=True):
        lines.append(f"torque at {limit.at:.0f} rpm: {limit.at_least + margin:.1f} N m, at least"
                     f" {limit.at_least:.1f} asked")  # fmt: skip
    for axis in plan.axes:
        step, *beside = found.neighbours[axis.name]
        said = [
            f"{word} {_cost(aims[0], best, curve)}"
            for word, curve in zip(("less", "more"), beside, strict=True)
        ]
        lines.append(f"{axis.name}: {step} {said[0]}, {said[1]}")
    if found.front:
        rows = [
            [*(shown(a, v) for a, v in zip(aims, k.aims, strict=True)),
             case_words(plan.axes, plan.scaled([k.share])[0])]
            for k in found.front
        ]  # fmt: skip
        lines += ["", "Trade-off: no curve looked at is better in both",
                  grid([words(aims[0]), words(aims[1]), "with"], rows)]  # fmt: skip
    return "\n".join(lines)


def _cost(aim, best: float, curve) -> str:
    """What a neighbour of the best loses, in words."""
    if curve is None:
        return "ends the span"
    if not curve.fits:
        return "breaks a limit" if np.all(np.isfinite(curve.aims)) else "fails"
    cost = best - curve.aims[0]
    return f"costs {shown(aim, cost)}" if cost > 0.0 else "costs nothing"


def sensitivity_text(aim, indices) -> str:
    """Indices, the most telling key first."""
    order = np.argsort(-indices.total)
    rows = [
        [indices.names[k], f"{indices.first[k]:.3f}", f"{indices.first_wide[k]:.3f}",
         f"{indices.total[k]:.3f}", f"{indices.total_wide[k]:.3f}"]
        for k in order
    ]  # fmt: skip
    head = (
        f"{words(aim)}: {shown(aim, indices.mean)} on average over the spans, standard deviation"
        f" {shown(aim, indices.deviation)}\n"
    )
    note = "first order: share of the variance by the key alone; total: with its interactions"
    return head + grid(["key", "first order", "+-", "total", "+-"], rows) + "\n" + note


def tolerance_text(plan, band) -> str:
    """The band at every speed and the slopes."""
    rows = []
    for k, rpm in enumerate(band.rpm):
        slopes = [f"{s[k]:+.2f}" for s in band.slopes.values()]
        rows.append([f"{rpm:.0f}", f"{band.torque[k]:.1f}",
                     f"{band.torque_low[k] - band.torque[k]:+.2f}",
                     f"{band.torque_high[k] - band.torque[k]:+.2f}", *slopes])  # fmt: skip
    heads = [f"N m per {a.unit or '1'} of {a.name}" for a in plan.axes]
    spans = ", ".join(f"{a.name} +-{a.high:g} {a.unit}" for a in plan.axes)
    title = f"Torque as drawn and within {spans} ({band.curves} curves)\n"
    return title + grid(["rpm", "torque N m", "least", "most", *heads], rows)


def write_sweep(data, path):
    """Every point of a sweep as CSV: varied keys in their units, figures in SI."""
    table = data.to_dataframe().reset_index()
    axes = [c for c in data.coords if c != "case"]
    columns = [*axes, *data.data_vars]
    heads = [f"{c} [{data[c].attrs.get('units', '1')}]" for c in columns]
    write_rows(path, heads, table[columns].itertuples(index=False))


def write_failures(plan, failures, path):
    """The points that failed as CSV."""
    heads = [*(f"{a.name} [{a.unit or '1'}]" for a in plan.axes), "rpm [rev/min]", "reason"]
    write_rows(path, heads, [[*values, rpm, reason] for values, rpm, reason in failures])


def write_known(search, found, path):
    """Every curve a search looked at as CSV."""
    plan = search.plan
    heads = [
        *(f"{a.name} [{a.unit or '1'}]" for a in plan.axes),
        *(f"{words(a)} [SI]" for a in search.aims),
        *(f"over the limit at {v.at:.0f} rpm [N m]" for v in search.asked.limits),
        "keeps limits",
    ]
    rows = [
        [*plan.scaled([k.share])[0], *k.aims, *k.margins, "yes" if k.fits else "no"]
        for k in found.known
    ]
    write_rows(path, heads, rows)


def write_indices(indices, path):
    """Sensitivity indices as CSV."""
    rows = zip(indices.names, indices.first, indices.first_wide, indices.total,
               indices.total_wide, strict=True)  # fmt: skip
    write_rows(path, ["key", "first order", "half-width", "total", "half-width"], rows)


def write_band(band, path):
    """A tolerance band as CSV."""
    slopes = [f"torque per unit of {n} [N m]" for n in band.slopes]
    heads = ["rpm [rev/min]", "torque [N m]", "least [N m]", "most [N m]", "ve [1]", "least [1]",
             "most [1]", *slopes]  # fmt: skip
    columns = [band.rpm, band.torque, band.torque_low, band.torque_high, band.ve, band.ve_low,
               band.ve_high, *band.slopes.values()]  # fmt: skip
    write_rows(path, heads, zip(*columns, strict=True))


_TEXTS = {
    Sweep: lambda plan, s: sweep_text(plan, s.data, s.failures),
    Searched: lambda plan, s: search_text(s.search, s.found),
    Sensitive: lambda plan, s: sensitivity_text(s.aim, s.indices),
    Band: tolerance_text,
}
