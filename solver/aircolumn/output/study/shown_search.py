"""How a search is shown: the best values, what they cost, every curve that was computed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import column_heading, counted, unit
from aircolumn.output.data_files import write_rows
from aircolumn.output.page.charts import chart, line, look
from aircolumn.output.plain import as_plain
from aircolumn.output.study.best import best_file, search_text
from aircolumn.output.study.shown import Shown
from aircolumn.output.study.words import aim_text, axis_heads, axis_scale, axis_words, plain_values
from aircolumn.study.aims import KINDS, aim_words
from aircolumn.study.session import Searched
from aircolumn.study.study_to_xarray import search_dataset

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.study.plan import Plan
    from aircolumn.study.search import RunnerSearch, SearchResult


class ShownSearch(Shown[Searched]):
    """The best values of the varied keys."""

    name = "search"

    def text(self, plan: Plan, result: Searched) -> str:
        """The best, how sure, and what it costs."""
        return search_text(result.search, result.found)

    def again(self, result: Searched) -> str:
        """What of the best was computed again."""
        return counted(result.found.again, "curve")

    def tables(self, plan: Plan, result: Searched, folder: Path) -> xr.Dataset:
        """study.csv, and the best as a file of its own."""
        write_known(result.search, result.found, folder / "study.csv")
        (folder / "study-best.yaml").write_text(best_file(plan, result.found), encoding="utf-8")
        return search_dataset(result.search, result.found)

    def draw(self, plan: Plan, result: Searched, folder: Path) -> list:
        """The aim against every key."""
        from aircolumn.output.study.pictures import plot_search  # slow to load

        return plot_search(result.search, result.found, folder / "study")

    def page(self, plan: Plan, result: Searched) -> tuple[str, str, list[dict[str, Any]]]:
        """The question, the answer and the charts."""
        search, found = result.search, result.found
        aim, kind = search.aims[0], KINDS[search.aims[0].of]
        values = np.array([k.aims[0] for k in found.known])
        fits = np.array([k.fits for k in found.known])
        charts = []
        for k, axis in enumerate(plan.axes):
            x = np.array([plan.scaled([p.share])[0][k] for p in found.known], dtype=float)
            label = f"The aim against {axis_words(axis)}"
            charts.append(
                chart(
                    f"aim{k}",
                    label,
                    aim_words(aim),
                    kind,
                    [
                        line("computed", x[fits], values[fits], look(0), "markers"),
                        line("breaks a limit", x[~fits], values[~fits], {**look(1), "mark": "x"}, "markers"),
                        line(
                            "the best",
                            [found.values[k]],
                            [found.best.aims[0]],
                            {**look(2), "mark": "star"},
                            "markers",
                        ),
                    ],
                    x=axis_scale(axis),
                )
            )
        if found.front:
            second = search.aims[1]
            charts.append(
                chart(
                    "front",
                    "The trade-off",
                    aim_words(second),
                    KINDS[second.of],
                    [
                        line(
                            "no curve better in both",
                            [k.aims[0] for k in found.front],
                            [k.aims[1] for k in found.front],
                            look(0),
                        ),
                    ],
                    x={"title": aim_words(aim), "kind": kind},
                )
            )
        texts = f"{aim_text(aim, found.best.aims[0])} with {plan.case_words(found.values)}"
        return f"Which values give the best {aim_words(aim)}?", f"Best: {texts}.", charts

    def plain(self, plan: Plan, result: Searched) -> dict[str, Any]:
        """The best values, the aim on cells half as long, the trade-off."""
        found = result.found
        return {
            "best": plain_values(plan, found.values),
            "recheck": as_plain(found.recheck),
            "front": [plain_values(plan, plan.scaled([c.share])[0]) for c in found.front],
        }


def write_known(search: RunnerSearch, found: SearchResult, path: Path) -> None:
    """Every curve a search computed as CSV."""
    plan, torque = search.plan, unit("torque")
    units = [unit(KINDS[a.of]) for a in search.aims]
    heads = [
        *axis_heads(plan),
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
