"""What a page shows of the control unit's table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.output.fuelling.asked_text import asked_lines
from aircolumn.output.fuelling.text import fuelling_text, moved_lines, reach_lines
from aircolumn.output.fuelling.words import CAUTION, load_kind, referred_words, size_words, what_loads_are
from aircolumn.output.page.charts import SPEED, chart_of_map, known

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.fuelling.session import ControlTable


def fuelled(found: ControlTable, engine: Engine) -> dict[str, Any]:
    """{question, answer, facts, charts, text}; engine: with the manifold that the table is for."""
    answer, *rest = [*moved_lines(found), *reach_lines(found)]
    return {
        "question": f"What does the control unit need for {found.name}?",
        "answer": [answer],
        "facts": [
            *rest,
            *asked_lines(found),
            f"{size_words(found.at)}; VE of {referred_words(found.referred_to)}",
            CAUTION,
        ],
        "charts": _charts(found),
        "text": fuelling_text(found, engine),
    }


def _charts(found: ControlTable) -> list[dict]:
    charts = [_map(found, "ve", f"VE of {found.name}", "VE", found.values)]
    if found.moved is not None:
        change = found.moved.ratio - 1.0
        title = f"Change of VE from {found.own.old}"
        charts.append(_map(found, "change", title, "change of VE", change))
    return charts


def _map(found: ControlTable, name: str, label: str, z_title: str, values: np.ndarray) -> dict:
    at = found.at
    y = {"title": what_loads_are(at), "kind": load_kind(at)}
    trace = {"x": known(at.rpm), "y": known(at.loads), "z": values.T}
    return chart_of_map(name, f"{label}, over speed and load", SPEED, y, z_title, "share", trace)
