"""Content and template to one file without requests (Jinja2 and Plotly, the extra ``report``)."""

from collections.abc import Callable, Iterable
from importlib.resources import files
from pathlib import Path
from typing import Any

from aircolumn.display_units import SETS, choose, chosen
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.text_file import AsRead
from aircolumn.errors import clean, printable
from aircolumn.output import CAUTION
from aircolumn.output.page.charts import units
from aircolumn.output.page.content import EVERY, MODEST, left_to_defaults


def write_page(
    path: Path,
    title: str,
    origin: dict[str, str],
    engine: Engine,
    sources: Iterable[AsRead],
    content: dict[str, Any],
) -> None:
    """Write a page; sources: the files it is of, as they were read; content: what is not the same on
    every page."""
    common = {
        "title": title,
        "origin": origin,
        "defaults": left_to_defaults(engine),
        "doubts": MODEST,
        "ranked": False,
        "every": EVERY,
        "units": units(),
        "chosen": chosen(),
        "caution": CAUTION,
        "gaps": [],
        "charts": [],
        "sure_charts": [],
        "cycles": [],
        "parts": [],
        "notes": [],
        "sources": [(printable(file.path.name), _shown(file.text)) for file in sources],
    }
    whole = {**common, **content}
    for texts in whole["texts"].values():
        texts["text"] = _shown(texts.get("text", ""))
    own = [chart for part in whole["parts"] for chart in part["charts"]]
    whole["all_charts"] = [*whole["charts"], *whole["sure_charts"], *own]
    path.write_text(page(whole), encoding="utf-8", errors="backslashreplace")


def in_all_units(make: Callable[[], dict]) -> dict[str, dict]:
    """What ``make`` says, in every set of units."""
    asked, said = chosen(), {}
    try:
        for name in SETS:
            choose(name)
            said[name] = make()
    finally:
        choose(asked)
    return said


def _shown(text: str) -> str:
    return clean(text.expandtabs(4).replace("\r\n", "\n"))


def page(content: dict[str, Any]) -> str:
    """The page as text; content: what template.html names."""
    from jinja2 import Environment
    from plotly.offline import get_plotlyjs

    here = files("aircolumn.output.page")
    template = Environment(autoescape=True).from_string((here / "template.html").read_text(encoding="utf-8"))
    names = {"script": "script.js", "explore_script": "explore.js", "style": "style.css"}
    own = {key: (here / name).read_text(encoding="utf-8") for key, name in names.items()}
    return template.render(**content, **own, plotly=get_plotlyjs())
