"""Curves as tables and sentences, in the units of the trade."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import Range, interest
from aircolumn.curves.summary import (
    TIE,
    WELL_LOCATED,
    all_crossings,
    high_humps,
    loosely,
    runner_mean,
    widest_gap,
)
from aircolumn.curves.to_xarray import failed_points, own_curve, shown_figure, shown_ve
from aircolumn.display_units import counted, percent, shown_number, unit, unit_of
from aircolumn.output.tables import fitted, listed
from aircolumn.point_figures import SHOWN, compared, curve_columns

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.curves.switchable import Switched
    from aircolumn.engine.description.computing import Speeds


FEW = 5  # runners whose crossings are listed pair by pair
#: What the level of a curve is worth, and its least certain figure (guide: what the level rests on).
LEVEL = (
    "Levels are those of the engine exactly as the file states it; what it leaves out mostly costs torque"
    " (`aircolumn bands`: the middle, and how sure it is).",
    "Least sure is the speed of peak power: on engines that others measured it was off by 5 to 15 %. It hangs"
    " on when the intake valve closes, on the runner's effective length and on friction.",
)


def curve_table(data: xr.Dataset, figures: Sequence[str] | None = None) -> str:
    """``figures`` of one engine at the speeds asked for; left out, those of curve_columns()."""
    data = requested_speeds_only(data)
    names = list(figures or [shown_ve(data)[0], *curve_columns()[1:]])
    units = {n: unit_of(n, data[n].attrs["units"]) for n in names if n in data}
    lines = [
        [f"{rpm:.0f}", *(shown_number(n, data[n][k]) for n in units)] for k, rpm in enumerate(data.rpm.values)
    ]
    return fitted(["rpm", *(f"{SHOWN[n].heading} {u.name}".rstrip() for n, u in units.items())], lines)


def requested_speeds_only(data: xr.Dataset) -> xr.Dataset:
    """The Dataset without the speeds that were added."""
    return data.isel(rpm=np.flatnonzero(data.asked.values))


def computed_text(data: xr.Dataset, speeds: Speeds) -> str:
    """What was added to the file's speeds, and how long cells are, as lines of their own; "" if there is
    nothing to say."""
    added, lines = int(np.sum(data.asked.values == 0)), []
    if added:
        lines.append(
            f"The curves have {counted(added, 'speed')} more, in the files: even ones, and those that"
            f" locate humps, dips and crossings within {speeds.locate_within:g} rpm."
        )
    lines = [line for line in (*lines, not_located(data), data.attrs["cells"], *LEVEL) if line]
    return "\n".join(["", *lines, ""]) if lines else ""


def not_located(data: xr.Dataset) -> str:
    """Says so where the budget did not do."""
    if not data.attrs["more_wanted"]:
        return ""
    return (
        "Some humps, dips or crossings are less well located: there are more than"
        " speeds.most_added allows for."
    )


def cylinders_table(data: xr.Dataset) -> str:
    """VE of every cylinder and their spread, for each runner (whole manifold only), at the speeds
    asked for."""
    data = requested_speeds_only(data)
    runners = data.runner.values if "runner" in data.dims else [None]
    lines = []
    for runner in runners:
        one = data if runner is None else data.sel(runner=runner)
        for k, rpm in enumerate(one.rpm.values):
            cells = [f"{100 * v:.1f}" for v in one.ve_cylinder.values[k]]
            spread = f"{100 * float(one.ve_spread[k]):.1f}"
            lines.append([str(runner or ""), f"{rpm:.0f}", *cells, spread])
    headings = [f"cyl. {k}" for k in data.cylinder.values]
    return fitted(["runner", "rpm", *headings, "spread %"], lines, keys=2)


def compare_table(data: xr.Dataset, figures: Sequence[str] | None = None) -> str:
    """``figures`` of all runners side by side at the speeds asked for (left out: VE, torque and power); *
    marks the most of these three where it leads by more than TIE."""
    data = requested_speeds_only(data)
    runners = [str(r) for r in data.runner.values]
    named = _compared(data, figures)
    lines = []
    for k, rpm in enumerate(data.rpm.values):
        line = [f"{rpm:.0f}"]
        for name in named:
            values = data[name].isel(rpm=k).values
            best = leader(values) if figures is None or SHOWN[name].compared else -1
            line += [f"{shown_number(name, v)}{'*' if i == best else ' '}" for i, v in enumerate(values)]
        lines.append(line)
    headings = ["rpm", *(f"{r} {heading}" for heading in named.values() for r in runners)]
    return fitted(headings, lines, groups=[len(runners)] * len(named))


def _compared(data: xr.Dataset, figures: Sequence[str] | None) -> dict[str, str]:
    """Names of figures, and what stands above each behind the runner. Left out: VE, torque and power as they
    were asked for: at a standard, of the density of the plenum where air is supplied."""
    if figures is not None:
        return {n: with_unit(n) for n in figures}
    ve, density = shown_ve(data)
    named = {ve: "VE %" if density == "ambient" else f"{density} VE %"}
    for name in compared()[1:]:
        named[shown_figure(data, name)[0]] = unit(SHOWN[name].kind).name
    return named


def with_unit(figure: str) -> str:
    """The heading of a figure, with the unit that is shown."""
    return f"{SHOWN[figure].heading} {unit(SHOWN[figure].kind).name}".rstrip()


def leader(values: np.ndarray) -> int:
    """The place of the highest value, if it leads all others by more than TIE; else -1."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 2:
        return -1
    *_, second, first = known[np.argsort(values[known])]
    return int(first) if values[first] > (1.0 + TIE) * values[second] else -1


def verdict(data: xr.Dataset, speeds: Speeds) -> str:
    """Peaks, who leads where, and means over the range that matters, in sentences."""
    lines = [_peaks(data, str(name)) for name in data.runner.values]
    torque, _ = shown_figure(data, "torque")
    if data.sizes["runner"] > FEW:  # every pair would be a page
        lines.append(_leaders(data, torque))
    else:
        pairs: dict[tuple, list[str]] = {}
        for a, b, at in all_crossings(data, torque):
            low, high = loosely(data.rpm.values, at) or (at, at)
            told = f"at {at:.0f} rpm" if low == high else f"between {low:.0f} and {high:.0f} rpm"
            pairs.setdefault((a, b), []).append(told)
        lines += [f"the torque curves of {a} and {b} cross {listed(met)}" for (a, b), met in pairs.items()]
    span = interest(speeds, data.rpm.values)
    return "\n".join([*lines, *([_means(data, torque, span)] if span else [])])


def _peaks(data: xr.Dataset, name: str) -> str:
    """The highest computed values of a runner; where the range ends with one, there may be more
    beyond."""
    one, (figure, density) = own_curve(data, name), shown_ve(data)
    power = shown_figure(data, "power")[0]
    word = "VE" if density == "ambient" else f"VE ({density})"
    if np.all(np.isnan(one.ve)):
        return f"{name}: no point could be computed"
    texts = []
    for what, key, kind in (
        (f"peak {word}", figure, "share"),
        ("torque", shown_figure(data, "torque")[0], "torque"),
        ("power", power, "power"),
    ):
        top, *others = high_humps(one.rpm.values, one[key].values)
        at = f"{top.rpm:.0f} rpm"
        if top.rpm in (data.rpm.values[0], data.rpm.values[-1]):
            at += " (where the range ends)"
        elif loose := loosely(one.rpm.values, top.rpm):
            at += f" (the top lies between {loose[0]:.0f} and {loose[1]:.0f} rpm)"
        if others and key != power:
            also = [f"{unit(kind).said(hump.value)} at {hump.rpm:.0f} rpm" for hump in others]
            at += f" (nearly as high: {listed(also)})"
        texts.append(f"{what} {unit(kind).said(top.value)} at {at}")
    return f"{name}: {', '.join(texts)}"


def _leaders(data: xr.Dataset, figure: str) -> str:
    """Which runner leads from speed to speed; leads of less than TIE do not count."""
    leading: list[tuple[float, str]] = []
    for k, rpm in enumerate(data.rpm.values):
        best = leader(data[figure].isel(rpm=k).values)
        name = "" if best < 0 else str(data.runner.values[best])
        if name and (not leading or leading[-1][1] != name):
            leading.append((float(rpm), name))
    if not leading:
        return f"torque: no runner leads another by {percent(TIE)} or more at any speed"
    return "most torque: " + ", ".join(f"{name} from {rpm:.0f} rpm on" for rpm, name in leading)


def _means(data: xr.Dataset, figure: str, span: Range) -> str:
    means = {str(n): runner_mean(data, figure, n, span) for n in data.runner.values}
    known = {n: m for n, m in means.items() if not np.isnan(m)}
    torque = unit("torque")
    listed = ", ".join(f"{n} {torque.number(known[n])}" if n in known else f"{n} not known" for n in means)
    best = leader(np.array(list(known.values())))
    explanations = ""
    if best >= 0:
        explanations = f"; {list(known)[best]} makes the most"
    elif len(known) > 1:
        explanations = f"; the best are within {percent(TIE)} of each other"
    sparse = sparse_words(span, data.rpm.values)
    return f"mean torque {span.words}, {torque.name}: {listed}{explanations}{sparse and f' ({sparse})'}"


def sparse_words(span: Range, rpm: np.ndarray) -> str:
    """Says so where a mean is of speeds so far apart that it may miss a hump; "" if not."""
    gap = widest_gap(rpm, span)
    if gap <= WELL_LOCATED:
        return ""
    return f"from speeds up to {gap:.0f} rpm apart, so humps and dips between them are missed"


def switched_text(manifold: Switched) -> str:
    """Where a switchable manifold changes over and what it gains, in sentences."""
    m = manifold
    steps = [f"{below} up to {at:.0f} rpm" for at, below, _ in m.changes]
    steps.append(f"{m.runner[-1]} above" if m.changes else f"{m.runner[-1]} at all speeds")
    lines = [f"{m.name}: {', '.join(steps)}"]
    if m.changes:
        lines[0] += " (equal torque where it changes over)"
    for span, (mean, alone) in m.means.items():
        torque = unit("torque")
        gains = ", ".join(
            f"{torque.number(mean - one, sign='+')} over {name} alone" for name, one in alone.items()
        )
        lines.append(f"{m.name}: mean torque {span.words} {torque.said(mean)}, {gains}")
    return "\n".join(lines)


def ledger_table(data: xr.Dataset) -> str:
    """Mass and energy ledger of every point asked for (over the last cycle, or two if they
    alternate)."""
    data = requested_speeds_only(data)
    parts = []
    rows: list[tuple[str | None, Any]] = [(None, data)]
    if "runner" in data.dims:
        rows = [(str(n), data.sel(runner=n)) for n in data.runner.values]
    for name, one in rows:
        for k, rpm in enumerate(one.rpm.values):
            if np.isnan(float(one.ve.isel(rpm=k))):
                continue
            at = f"{name} at " if name else ""
            parts.append(f"{at}{rpm:.0f} rpm, over the cycles accounted for:")
            for side in ("mass", "energy"):
                own = unit(side)
                for entry in one[f"{side}_entry"].values:
                    value = own.of(float(one[f"{side}_ledger"].isel(rpm=k).sel({f"{side}_entry": entry})))
                    parts.append(f"  {side:6s} {entry:40s} {value:12.4f} {own.name}")
                gap = own.of(float(one[f"{side}_ledger"].isel(rpm=k).sum()))
                parts.append(f"  {side:6s} {'does not close by':40s} {gap:12.2e} {own.name}")
    return "\n".join(parts)


def gaps_text(data: xr.Dataset) -> str:
    """The points that could not be computed, with the reason; "" if there are none."""
    failed = failed_points(data)
    if not failed:
        return ""
    lines = [f"  {name + ', ' if name else ''}{rpm:.0f} rpm: {why}" for name, rpm, why in failed]
    return "\n".join(["Not computed (-):", *lines])
