"""How sensitivity is shown: the share of every key in what the aim varies by."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import interest
from aircolumn.display_units import percent
from aircolumn.output.data_files import write_rows
from aircolumn.output.page.charts import chart, known, look
from aircolumn.output.tables import fitted, listed
from aircolumn.questions.aims import SI_UNITS, check_aim
from aircolumn.questions.kind import Question
from aircolumn.questions.sensitivity.sensitivity import (
    NARROW,
    Indices,
    Sensitive,
    Sensitivity,
    count_needed,
    need_salib,
    sensitivity,
    unsettled,
)
from aircolumn.questions.words import aim_text

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.questions.aims import Aim
    from aircolumn.questions.kind import Work
    from aircolumn.study.plan import Plan


@dataclass(frozen=True)
class SensitivityFound:
    """The aim's name, and its indices."""

    aim: str
    indices: Indices


class SensitivityQuestion(Question[Sensitive]):
    """Sobol indices."""

    name = "sensitivity"
    found = SensitivityFound
    keys = Sensitivity

    def ask(self, plan: Plan, work: Work) -> Sensitive:
        """Curves of the sample, and the indices."""
        aim = _checked_aim(plan)
        return Sensitive(
            aim, sensitivity(plan.on(work.cells.final), aim, work.store, work.executor, work.progress)
        )

    def text(self, plan: Plan, result: Sensitive) -> str:
        """Indices, the most telling key first."""
        return sensitivity_text(result.aim, result.indices, plan.study.keys_of(Sensitivity).count)

    def tables(self, plan: Plan, result: Sensitive, folder: Path) -> xr.Dataset:
        """study.csv."""
        write_indices(result.indices, folder / "study.csv")
        return indices_dataset(plan, result.aim, result.indices)

    def draw(self, plan: Plan, result: Sensitive, folder: Path) -> list:
        """Bars with their intervals."""
        from aircolumn.questions.sensitivity.pictures import plot_indices  # slow to load

        return plot_indices(plan, result.aim, result.indices, folder / "study")

    def page(self, plan: Plan, result: Sensitive) -> tuple[str, str, list[dict[str, Any]]]:
        """The question, the answer and the charts."""
        i, aim = result.indices, result.aim.words
        names = [a.said.partition(",")[0] for a in plan.axes]
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
        share = f"{percent(max(i.total), '.0f')} of the variance, its interactions included"
        return f"What decides {aim}?", f"Most: {most} ({share}).", [made]

    def plain(self, plan: Plan, result: Sensitive) -> SensitivityFound:
        """The aim and its indices."""
        return SensitivityFound(result.aim.of, result.indices)

    def check(self, plan: Plan) -> None:
        """Whether the library is there and the speeds cover the aim. Raises RequestError."""
        need_salib()
        _checked_aim(plan)


def _checked_aim(plan: Plan) -> Aim:
    """The aim with its range. Raises RequestError."""
    span = interest(plan.engine.speeds, plan.speeds)
    return check_aim(plan.study.keys_of(Sensitivity).aim, plan.speeds, span)


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
        f"{aim.words}: {aim_text(aim, indices.mean)} on average over the spans, standard"
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


def indices_dataset(plan: Plan, aim: Aim, indices: Indices) -> xr.Dataset:
    """Sobol indices of every varied key."""
    import xarray as xr

    data = xr.Dataset(coords={"key": [a.key for a in plan.axes]})
    for name, values, meaning in (
        ("first_order", indices.first, "share of the variance by the key alone"),
        ("first_order_half_width", indices.first_wide, "95 % interval of first_order, half"),
        ("total", indices.total, "share of the variance with the key's interactions"),
        ("total_half_width", indices.total_wide, "95 % interval of total, half"),
    ):
        data[name] = ("key", values, {"units": "1", "long_name": meaning})
    data.attrs = {
        "title": plan.engine.title,
        "aim": aim.words,
        "aim_units": SI_UNITS[aim.of],
        "aim_mean": indices.mean,
        "aim_standard_deviation": indices.deviation,
    }
    return data


QUESTION = SensitivityQuestion()
