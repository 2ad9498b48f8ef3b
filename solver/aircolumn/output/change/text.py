"""What a change did, as text and as a CSV file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.curves.change import FIGURES, SIDES
from aircolumn.curves.summary import TIE
from aircolumn.display_units import column_heading, percent, unit
from aircolumn.output.data_files import write_rows
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    import xarray as xr


KINDS = dict(zip(FIGURES, ("share", "torque", "power"), strict=True))


TITLES = dict(zip(FIGURES, ("VE", "torque", "power"), strict=True))


MOST_KEYS = 20  # shown on the screen


SAME = 1e-9  # relative: two results of one computation


def change_text(data: xr.Dataset, keys: Sequence[tuple[str, ...]]) -> str:
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


def _keys_text(keys: Sequence[tuple[str, ...]]) -> str:
    if not keys:
        return "The two engine files say the same."
    lines = [f"  {key}: {a} -> {b}" for key, a, b in keys[:MOST_KEYS]]
    if len(keys) > MOST_KEYS:
        lines.append(f"  and {len(keys) - MOST_KEYS} more")
    return "\n".join(["What differs, before -> after:", *lines])


def _table(one: xr.Dataset) -> str:
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


def _means(one: xr.Dataset) -> str:
    """Mean torque over the range that matters, or over all speeds."""
    if "mean_torque" not in one:
        return ""
    where = one.mean_torque.attrs["over"]
    a, b = map(float, one.mean_torque.values)
    torque = unit("torque")
    texts = (
        f"mean torque {where}: {torque.said(a)} before,"
        f" {torque.said(b)} after ({torque.number(b - a, sign='+')})"
    )
    small = abs(b - a) <= TIE * abs(a)
    return texts + (f": less than the {percent(TIE)} that the curves can tell" if small else "")


def write_change(data: xr.Dataset, path: Path) -> None:
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
