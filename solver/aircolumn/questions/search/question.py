"""How a search is shown: the best values, what they cost, every curve that was computed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import column_heading, counted, unit
from aircolumn.output.data_files import write_rows
from aircolumn.output.page.charts import chart, line, look
from aircolumn.questions.aims import KINDS, SI_UNITS, aim_words
from aircolumn.questions.kind import Question
from aircolumn.questions.search.best import best_file, search_text
from aircolumn.questions.search.search import RunnerSearch, Search, Searched, checked_aims
from aircolumn.questions.words import Values, aim_text, axis_heads, axis_scale, plain_values

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.questions.kind import Work
    from aircolumn.questions.search.search import SearchResult
    from aircolumn.study.plan import Plan


@dataclass(frozen=True)
class SearchFound:
    """The best values; the aim there on cells half as long, SI; cases that no other beats in both aims."""

    best: Values
    recheck: float
    front: list[Values]


class SearchQuestion(Question[Searched]):
    """The best values of the varied keys."""

    name = "search"
    found = SearchFound
    keys = Search

    def ask(self, plan: Plan, work: Work) -> Searched:
        """Search."""
        search = RunnerSearch(plan, work.store, work.executor, work.progress, work.cells)
        return Searched(search, search.run())

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
        from aircolumn.questions.search.pictures import plot_search  # slow to load

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
            label = f"The aim against {axis.said}"
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

    def plain(self, plan: Plan, result: Searched) -> SearchFound:
        """The best values, the aim on cells half as long, the trade-off."""
        found = result.found
        front = [plain_values(plan, plan.scaled([c.share])[0]) for c in found.front]
        return SearchFound(plain_values(plan, found.values), found.recheck, front)

    def check(self, plan: Plan) -> None:
        """Whether the speeds cover aims and limits. Raises RequestError."""
        checked_aims(plan)


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


def search_dataset(search: RunnerSearch, found: SearchResult) -> xr.Dataset:
    """Every curve a search computed: the aims, by how much limits are kept, torque over speed."""
    import xarray as xr

    plan, known = search.plan, found.known
    data = xr.Dataset(coords={"rpm": ("rpm", plan.speeds, {"units": "rev/min"})})
    rows = plan.scaled([k.share for k in known])
    for axis, values in zip(plan.axes, zip(*rows, strict=True), strict=True):
        data.coords[axis.name] = ("curve", list(values), {"units": axis.unit or "1", "long_name": axis.key})
    for n, aim in enumerate(search.aims):
        about = {"units": SI_UNITS[aim.of], "long_name": aim_words(aim)}
        data["second_aim" if n else "aim"] = ("curve", [k.aims[n] for k in known], about)
    for n, limit in enumerate(search.asked.limits):
        said = f"torque over the limit at {limit.at:.0f} rpm"
        about = {"units": "N m", "long_name": said}
        data[f"over_limit_{limit.at:.0f}"] = ("curve", [k.margins[n] for k in known], about)
    data["torque"] = (
        ("curve", "rpm"),
        np.array([k.torque for k in known]),
        {"units": "N m", "long_name": "brake torque of the engine"},
    )
    best = [np.array_equal(k.share, found.best.share) for k in known]
    data["best"] = ("curve", np.array(best, dtype=np.int8), {"units": "1", "long_name": "the best"})
    data.attrs = {"title": plan.engine.title, "aim_with_cells_halved": found.recheck}
    return data


QUESTION = SearchQuestion()
