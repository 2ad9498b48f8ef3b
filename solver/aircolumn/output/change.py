"""Two results side by side: as text, table and picture."""

import numpy as np

from aircolumn.curves.change import FIGURES, SIDES
from aircolumn.curves.summary import TIE
from aircolumn.display_units import column_heading, unit
from aircolumn.output.caution import SHORT
from aircolumn.output.data_files import write_rows
from aircolumn.output.plots import SPEED, STYLES, figure, heading, label_ends, plain, save
from aircolumn.output.tables import fitted

KINDS = dict(zip(FIGURES, ("share", "torque", "power"), strict=True))
TITLES = dict(zip(FIGURES, ("VE", "torque", "power"), strict=True))
MOST_KEYS = 20  # shown on the screen
SAME = 1e-9  # relative: two results of one computation


def change_text(data, keys) -> str:
    """Which keys changed, and each runner before and after."""
    blocks = [_keys_text(keys)]
    for name in data.runner.values:
        one = data.sel(runner=name)
        was, now = one.torque.values
        if np.allclose(was, now, rtol=SAME, equal_nan=True):
            blocks.append(f"{name}: no change")
            continue
        blocks.append(f"{name}\n{_table(one)}\n{_means(one)}")
    return "\n\n".join(blocks)


def _keys_text(keys) -> str:
    if not keys:
        return "No key of the engine file differs."
    lines = [f"  {key}: {a} -> {b}" for key, a, b in keys[:MOST_KEYS]]
    if len(keys) > MOST_KEYS:
        lines.append(f"  and {len(keys) - MOST_KEYS} more")
    return "\n".join(["Keys that differ, before -> after:", *lines])


def _table(one) -> str:
    """Before, after and the difference at every speed."""
    lines = []
    for k, rpm in enumerate(one.rpm.values):
        line = [f"{rpm:.0f}"]
        for name, kind in KINDS.items():
            shown = unit(kind)
            a, b = one[name].values[:, k]
            line += [shown.number(a), shown.number(b), shown.number(b - a, sign="+")]
        lines.append(line)
    heads = [
        f"{part} {unit(kind).name}" if part != "change" else part
        for name, kind in KINDS.items()
        for part in (f"{TITLES[name]} before", "after", "change")
    ]
    return fitted(["rpm", *heads], lines, groups=[3] * len(KINDS))


def _means(one) -> str:
    """Mean torque over the range of interest, or over all speeds."""
    if "mean_torque" not in one:
        return ""
    low, high = one.mean_torque.attrs["range"]
    a, b = map(float, one.mean_torque.values)
    torque = unit("torque")
    texts = (
        f"mean torque from {low:.0f} to {high:.0f} rpm: {torque.said(a)} before,"
        f" {torque.said(b)} after ({torque.number(b - a, sign='+')})"
    )
    small = abs(b - a) <= TIE * abs(a)
    return texts + (f": less than the {100 * TIE:g} % that the curves can tell" if small else "")


def write_change(data, path):
    """One row a runner and speed as CSV."""
    heads, columns = ["runner", "rpm"], []
    for name, kind in KINDS.items():
        for side in SIDES:
            heads.append(column_heading(f"{name} {side}", unit(kind)))
            columns.append(unit(kind).of(data[name].sel(side=side).values))
    write_rows(
        path,
        heads,
        (
            [str(runner), float(rpm), *(float(c[i, k]) for c in columns)]
            for i, runner in enumerate(data.runner.values)
            for k, rpm in enumerate(data.rpm.values)
        ),
    )


def plot_change(data, base) -> list:
    """Torque before (dashed) and after (whole line) of each runner, and the changes of torque and
    VE, as ``base``.png and .svg."""
    rpm, torque = data.rpm.values, unit("torque")
    with figure(3, figsize=(9.5, 10.0), height_ratios=(3, 2, 2)) as (fig, (top, middle, low)):
        labels: dict = {panel: [] for panel in (top, middle, low)}
        for k, name in enumerate(data.runner.values):
            one, style = data.sel(runner=name), STYLES[k % len(STYLES)]
            (was, now), (ve_was, ve_now) = torque.of(one.torque.values), 100 * one.ve.values
            old = {**style, "linestyle": "--", "fillstyle": "none", "alpha": 0.7}
            top.plot(rpm, was, **old)
            for panel, values in ((top, now), (middle, now - was), (low, ve_now - ve_was)):
                panel.plot(rpm, values, **{**style, "linestyle": "-"})
                labels[panel].append((rpm, values, plain(str(name)), style["color"]))
        for panel in (middle, low):
            panel.axhline(0.0, color="#555555", linewidth=0.8)
        for panel, texts in labels.items():
            label_ends(panel, texts)
        top.set_ylabel(f"brake torque, {torque.name}")
        middle.set_ylabel(f"change of torque, {torque.name}")
        low.set(ylabel="change of VE, points", xlabel=SPEED)
        top.set_title(heading(data.attrs["title"], "Before and after"))
        texts = "Dashed lines, hollow points: before. Solid lines: after."
        fig.supxlabel(f"{texts}\n{SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)
