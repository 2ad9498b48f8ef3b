"""Readable tables of results, in the units of the trade."""

from typing import Any

import numpy as np

from aircolumn.curves.labelled import failed_points, shown_ve
from aircolumn.curves.summary import all_crossings, interest_range, mean_over, peak

#: figure: (heading, factor from SI, format)
COLUMNS = {
    "ve": ("VE %", 100.0, "{:.1f}"),
    "ve_plenum": ("VE % (plenum)", 100.0, "{:.1f}"),
    "torque": ("torque N m", 1.0, "{:.1f}"),
    "power": ("power kW", 1e-3, "{:.1f}"),
    "torque_corrected": ("corrected N m", 1.0, "{:.1f}"),
    "power_corrected": ("corrected kW", 1e-3, "{:.1f}"),
    "bmep": ("BMEP bar", 1e-5, "{:.2f}"),
    "imep": ("IMEP bar", 1e-5, "{:.2f}"),
    "pmep": ("PMEP bar", 1e-5, "{:.2f}"),
    "fmep": ("FMEP bar", 1e-5, "{:.2f}"),
    "residual": ("residual %", 100.0, "{:.1f}"),
    "ve_delivered": ("deliv. VE %", 100.0, "{:.1f}"),
    "plenum_pressure": ("plenum kPa", 1e-3, "{:.1f}"),
    "bsfc": ("BSFC g/kWh", 3.6e9, "{:.0f}"),
    "peak_pressure": ("p max bar", 1e-5, "{:.1f}"),
    "cycles": ("cycles", 1.0, "{:.0f}"),
}


def grid(headings: list[str], lines: list[list[str]]) -> str:
    """Right-aligned text table; a value that is not known shows as a dash."""
    rows = [headings, *([_shown(c) for c in line] for line in lines)]
    widths = [max(len(r[k]) for r in rows) for k in range(len(headings))]
    text = ["  ".join(c.rjust(w) for c, w in zip(r, widths, strict=True)) for r in rows]
    return "\n".join([text[0], "-" * len(text[0]), *text[1:]])


def _shown(cell: str) -> str:
    return "-" if cell.strip("+* ") == "nan" else cell


def gaps_text(data) -> str:
    """The points that could not be computed, with the reason; "" if there are none."""
    failed = failed_points(data)
    if not failed:
        return ""
    lines = [f"  {name + ', ' if name else ''}{rpm:.0f} rpm: {why}" for name, rpm, why in failed]
    return "\n".join(["Not computed (-):", *lines])


def curve_table(data) -> str:
    """All figures of one engine at the speeds asked for."""
    data = asked_for(data)
    ve, _ = shown_ve(data)
    names = [ve, *(n for n in COLUMNS if n in data and n not in ("ve", "ve_plenum"))]
    lines = []
    for k, rpm in enumerate(data.rpm.values):
        cells = [COLUMNS[n][2].format(COLUMNS[n][1] * float(data[n][k])) for n in names]
        lines.append([f"{rpm:.0f}", *cells])
    return grid(["rpm", *(COLUMNS[n][0] for n in names)], lines)


def asked_for(data):
    """The Dataset without the speeds that were added."""
    return data.isel(rpm=np.flatnonzero(data.asked.values))


def added_text(data, speeds) -> str:
    """What was added to the file's speeds, as a line of its own; "" if nothing was."""
    added = int(np.sum(data.asked.values == 0))
    if not added:
        return ""
    text = (
        f"\n{added} speeds were added (they are in the files) to locate humps, hollows and"
        f" crossings within {speeds.locate_within:g} rpm"
    )
    if data.attrs["more_wanted"]:
        text += "; more are wanted than speeds.most_added allows, so some are less well located"
    return text + ".\n"


def cylinders_table(data) -> str:
    """VE of every cylinder and their spread, for each runner (whole manifold only), at the speeds
    asked for."""
    data = asked_for(data)
    runners = data.runner.values if "runner" in data.dims else [None]
    lines = []
    for runner in runners:
        one = data if runner is None else data.sel(runner=runner)
        for k, rpm in enumerate(one.rpm.values):
            cells = [f"{100 * v:.1f}" for v in one.ve_cylinder.values[k]]
            spread = f"{100 * float(one.ve_spread[k]):.1f}"
            lines.append([str(runner or ""), f"{rpm:.0f}", *cells, spread])
    headings = [f"cyl. {k}" for k in data.cylinder.values]
    return grid(["runner", "rpm", *headings, "spread %"], lines)


def map_table(data) -> str:
    """The ridge of a tuning map beside the rules of thumb."""
    from aircolumn.tuning.tuning_map import rule_errors

    lines = []
    for length, ridge, fits, off, order, wave in rule_errors(data):
        if ridge != ridge:
            lines.append([f"{1e3 * length:.0f}", "outside", "", "", "", ""])
            continue
        lines.append([f"{1e3 * length:.0f}", f"{ridge:.0f}", f"{fits:.2f}",
                      f"{100 * off:+.0f}", str(order), f"{100 * wave:+.0f}"])  # fmt: skip
    headings = [f"runner {data.attrs['vary']} mm", "hump at rpm", "K that fits",
                "neck and volume off %", "nearest order", "quarter wave off %"]  # fmt: skip
    return grid(headings, lines)


def account_table(data) -> str:
    """The filling account in points of VE: from 100 by what each effect takes or gives to VE."""
    width = max(len(e) for e in data.entry.values)
    rows = [["full at ambient density".ljust(width), *("100.0" for _ in data.rpm.values)]]
    for entry, values in zip(data.entry.values, data.account.values, strict=True):
        rows.append([entry.ljust(width), *(f"{100 * v:+.1f}" for v in values)])
    rows.append(["VE, %".ljust(width), *(f"{100 * v:.1f}" for v in data.ve.values)])
    heading = ["points of VE at rpm".ljust(width), *(f"{rpm:.0f}" for rpm in data.rpm.values)]
    note = "Each entry: VE with the effect less VE without it, removed one after another downwards."
    return grid(heading, rows) + "\n" + note


def compare_table(data) -> str:
    """VE and torque of all runners side by side at the speeds asked for, the best of each marked
    with *."""
    data = asked_for(data)
    runners = [str(r) for r in data.runner.values]
    ve, density = shown_ve(data)
    heading = "VE %" if density == "ambient" else f"{density} VE %"
    headings = ["rpm", *(f"{r} {heading}" for r in runners), *(f"{r} N m" for r in runners)]
    lines = []
    for k, rpm in enumerate(data.rpm.values):
        line = [f"{rpm:.0f}"]
        for name, factor in ((ve, 100.0), ("torque", 1.0)):
            values = data[name].isel(rpm=k).values * factor
            best = -1 if np.all(np.isnan(values)) else int(np.nanargmax(values))
            line += [f"{v:.1f}{'*' if i == best else ' '}" for i, v in enumerate(values)]
        lines.append(line)
    return grid(headings, lines)


def verdict(data, speeds) -> str:
    """Peaks, crossings and means over the range of interest, in sentences."""
    rpm, (figure, density) = data.rpm.values, shown_ve(data)
    word = "VE" if density == "ambient" else f"VE ({density})"
    lines = []
    for name in data.runner.values:
        ve, torque = (data[f].sel(runner=name).values for f in (figure, "torque"))
        if np.all(np.isnan(ve)):
            lines.append(f"{name}: no point could be computed")
            continue
        v, t = peak(rpm, ve), peak(rpm, torque)
        lines.append(
            f"{name}: peak {word} {100 * v.value:.1f} % at {v.rpm:.0f} rpm,"
            f" peak torque {t.value:.1f} N m at {t.rpm:.0f} rpm"
        )
    for a, b, at in all_crossings(data, "torque"):
        lines.append(f"torque of {a} and {b} crosses at {at:.0f} rpm")
    span = interest_range(speeds, rpm)
    if span:
        means = {
            str(n): mean_over(rpm, data.torque.sel(runner=n).values, *span)
            for n in data.runner.values
        }
        known = {n: m for n, m in means.items() if not np.isnan(m)}
        listed = ", ".join(f"{n} {known[n]:.1f}" if n in known else f"{n} not known"
                           for n in means)  # fmt: skip
        best = f"; {max(known, key=lambda n: known[n])} fills this range best" if known else ""
        lines.append(f"mean torque from {span[0]:.0f} to {span[1]:.0f} rpm, N m: {listed}{best}")
    return "\n".join(lines)


def switched_text(manifold) -> str:
    """Where a switchable manifold changes over and what it gains, in sentences."""
    m = manifold
    steps = [f"{below} up to {at:.0f} rpm" for at, below, _ in m.changes]
    steps.append(f"{m.runner[-1]} above" if m.changes else f"{m.runner[-1]} at all speeds")
    lines = [f"{m.name}: {', '.join(steps)}"]
    if m.changes:
        lines[0] += " (equal torque where it changes over)"
    for (low, high), (mean, alone) in m.means.items():
        gains = ", ".join(f"{mean - one:+.1f} over {name} alone" for name, one in alone.items())
        lines.append(f"{m.name}: mean torque from {low:.0f} to {high:.0f} rpm {mean:.1f} N m,"
                     f" {gains}")  # fmt: skip
    return "\n".join(lines)


def ledger_table(data) -> str:
    """Mass and energy ledger of every point asked for (over the last cycle, or two if they
    alternate)."""
    data = asked_for(data)
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
            for side, unit, factor in (("mass", "mg", 1e6), ("energy", "J", 1.0)):
                for entry in one[f"{side}_entry"].values:
                    value = factor * float(one[f"{side}_ledger"].isel(rpm=k).sel(
                        {f"{side}_entry": entry}))  # fmt: skip
                    parts.append(f"  {side:6s} {entry:40s} {value:12.4f} {unit}")
                gap = factor * float(one[f"{side}_ledger"].isel(rpm=k).sum())
                parts.append(f"  {side:6s} {'does not close by':40s} {gap:12.2e} {unit}")
    return "\n".join(parts)
