"""How a search is shown: the best values, what they cost, every curve that was computed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import counted
from aircolumn.output.page.charts import chart, line, look
from aircolumn.questions.aims import KINDS
from aircolumn.questions.kind import Question
from aircolumn.questions.search.asked import Search, checked_aims
from aircolumn.questions.search.drawn import DrawnEngines
from aircolumn.questions.search.files import FRONT_FILES, search_dataset, write_engines, write_known
from aircolumn.questions.search.front import bend_of
from aircolumn.questions.search.search import RunnerSearch, Searched
from aircolumn.questions.search.text import answer_line, bend_lines, gain_lines, search_text
from aircolumn.questions.words import Values, axis_scale, plain_values

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.questions.kind import Work
    from aircolumn.questions.search.search import SearchResult
    from aircolumn.study.plan import Plan


@dataclass(frozen=True)
class SearchFound:
    """The best values, and whether they keep all limits (if none do, the nearest to it); the aim there, on
    cells half as long, and by how much it may be off for its speeds, SI; cases that no other beats in both
    aims, and which of them the bend is (from 0); the best for the file's own engine, where others count."""

    best: Values
    keeps_limits: bool
    aim: float
    recheck: float
    sum_error: float
    front: list[Values]
    bend: int | None
    best_of_own_engine: Values | None


class SearchQuestion(Question[Searched]):
    """The best values of the varied keys."""

    name = "search"
    found = SearchFound
    keys = Search
    replaced = FRONT_FILES
    tells_sums = True

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
        """study.csv, and the best and the front as files of their own."""
        write_known(result.search, result.found, folder / "study.csv")
        write_engines(plan, result.found, folder)
        return search_dataset(result.search, result.found)

    def draw(self, plan: Plan, result: Searched, folder: Path) -> list:
        """The aim against every key."""
        from aircolumn.questions.search.pictures import plot_search  # slow to load

        return plot_search(result.search, result.found, folder / "study")

    def page(self, plan: Plan, result: Searched) -> tuple[str, str, list[dict[str, Any]]]:
        """The question, the answer and the charts."""
        search, found = result.search, result.found
        charts = _against_keys(search, found)
        texts = [f"{answer_line(search, found)}.", *(f"{t}." for t in gain_lines(found, search.aims[0]))]
        if found.front:
            charts.append(_front_chart(search, found))
            texts += bend_lines(search, found.front)
        return f"Which values give the best {search.aims[0].words}?", "\n".join(texts), charts

    def plain(self, plan: Plan, result: Searched) -> SearchFound:
        """The best values, the aim on cells half as long, the trade-off."""
        found = result.found
        robust = found.robust
        return SearchFound(
            plain_values(plan, found.values),
            found.judged.fits,
            float(found.judged.aims[0]),
            float(found.recheck.aims[0]),
            found.errors[0],
            [plain_values(plan, d.values) for d in found.front],
            bend_of(found.front),
            None if robust is None else plain_values(plan, robust.own.values),
        )

    def check(self, plan: Plan) -> None:
        """Whether the speeds cover aims and limits, and there is what is searched over. Raises
        RequestError."""
        checked_aims(plan)
        over = plan.study.keys_of(Search).over
        if over is not None:
            DrawnEngines(plan, over.engines)


def _against_keys(search: RunnerSearch, found: SearchResult) -> list[dict[str, Any]]:
    """The aim against every key that is a number."""
    aim, designs = search.aims[0], found.shown
    values = np.array([d.aims[0] for d in designs])
    fits = np.array([d.fits for d in designs])
    best = found.judged
    charts = []
    for k, axis in enumerate(search.plan.axes):
        if axis.in_words:
            continue
        x = np.array([d.values[k] for d in designs], dtype=float)
        star = {**look(2), "mark": "star"}
        lines = [
            line("computed", x[fits], values[fits], look(0), "markers"),
            line("breaks a limit", x[~fits], values[~fits], {**look(1), "mark": "x"}, "markers"),
            line("the best", [found.values[k]], [best.aims[0]], star, "markers"),
        ]
        label = f"The aim against {axis.said}"
        charts.append(chart(f"aim{k}", label, aim.words, KINDS[aim.of], lines, x=axis_scale(axis)))
    return charts


def _front_chart(search: RunnerSearch, found: SearchResult) -> dict[str, Any]:
    """Both aims of the designs that no other beats in both."""
    first, second = search.aims
    aims = np.array([d.aims for d in found.front])
    lines = [line("no curve better in both", aims[:, 0], aims[:, 1], look(0))]
    if (bend := bend_of(found.front)) is not None:
        star = {**look(2), "mark": "star"}
        lines.append(line(f"the bend, file {bend + 1}", aims[[bend], 0], aims[[bend], 1], star, "markers"))
    x = {"title": first.words, "kind": KINDS[first.of]}
    return chart("front", "The trade-off", second.words, KINDS[second.of], lines, x=x)


QUESTION = SearchQuestion()
