"""How sensitivity is shown: the share of every key in what the aim varies by."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.output.data_files import write_rows
from aircolumn.output.page.charts import chart, known, look
from aircolumn.output.plain import as_plain
from aircolumn.output.study.shown import Shown
from aircolumn.output.study.words import aim_text, axis_words
from aircolumn.output.tables import fitted, listed
from aircolumn.study.aims import aim_words
from aircolumn.study.sensitivity import NARROW, count_needed, unsettled
from aircolumn.study.session import Sensitive
from aircolumn.study.study_to_xarray import indices_dataset

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.models import Aim
    from aircolumn.study.plan import Plan
    from aircolumn.study.sensitivity import Indices


class ShownSensitivity(Shown[Sensitive]):
    """Sobol indices."""

    name = "sensitivity"

    def text(self, plan: Plan, result: Sensitive) -> str:
        """Indices, the most telling key first."""
        return sensitivity_text(result.aim, result.indices, required(plan.study.sensitivity).count)

    def tables(self, plan: Plan, result: Sensitive, folder: Path) -> xr.Dataset:
        """study.csv."""
        write_indices(result.indices, folder / "study.csv")
        return indices_dataset(plan, result.aim, result.indices)

    def draw(self, plan: Plan, result: Sensitive, folder: Path) -> list:
        """Bars with their intervals."""
        from aircolumn.output.study.pictures import plot_indices  # slow to load

        return plot_indices(plan, result.aim, result.indices, folder / "study")

    def page(self, plan: Plan, result: Sensitive) -> tuple[str, str, list[dict[str, Any]]]:
        """The question, the answer and the charts."""
        i, aim = result.indices, aim_words(result.aim)
        names = [axis_words(a).partition(",")[0] for a in plan.axes]
        bars = [
            {"name": name, "x": names, "y": known(values), "mode": "bars", "error": known(wide), **look(k)}
            for k, (name, values, wide) in enumerate(
                (("first order", i.first, i.first_wide), ("total", i.total, i.total_wide))
            )
        ]
        made = chart(
            "indices",
            "Sobol indices",
            f"share of the variance of {aim}",
            "number",
            bars,
            x={"title": "", "kind": None},
        )
        most = names[int(np.argmax(i.total))]
        share = f"{100 * max(i.total):.0f} % of the variance, its interactions included"
        return f"What decides {aim}?", f"Most: {most} ({share}).", [made]

    def plain(self, plan: Plan, result: Sensitive) -> dict[str, Any]:
        """The aim and its indices."""
        return {"aim": result.aim.of, "indices": as_plain(result.indices)}


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


def write_indices(indices: Indices, path: Path) -> None:
    """Sensitivity indices as CSV."""
    rows = zip(
        indices.names, indices.first, indices.first_wide, indices.total, indices.total_wide, strict=True
    )
    heads = ["key", "first order", "half-width of first order", "total", "half-width of total"]
    write_rows(path, heads, rows)
