"""What every page says, and what makes one of its parts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from aircolumn.curves.summary import TIE
from aircolumn.display_units import percent
from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.reference import default_of
from aircolumn.errors import RequestError

EVERY = 2.0  # deg between the angles of a cycle that is shown
MODEST = (
    "The shape of a curve and the difference between runners are worth more than its level, which"
    " moves with what the file leaves to assumptions (listed below).",
    f"Differences under {percent(TIE)} are treated as a tie.",
)


HINT = (
    "aircolumn compare --uncertainty gives the numerical uncertainty; a measured pull (aircolumn"
    " pull) tells what the engine does.",
)


def left_to_defaults(engine: FileModel) -> list[tuple[str, str, str]]:
    """(key, value, meaning) of everything the file leaves to its default."""
    return list(_defaults(engine, ""))


def _defaults(part: FileModel, place: str) -> Iterator[tuple[str, str, str]]:
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        key = f"{place}.{field.alias or name}".lstrip(".")
        if isinstance(value, FileModel):
            yield from _defaults(value, key)
        elif name not in part.model_fields_set:
            default = default_of(field)
            if default:
                yield key, default, field.description or ""


MISSING = "a report needs more libraries: pip install 'aircolumn[report]'"


def check_libraries() -> None:
    """Raise RequestError if what a report needs is not installed."""
    try:
        import jinja2  # noqa: F401
        import plotly  # noqa: F401
    except ImportError:
        raise RequestError(MISSING) from None


def told(made: dict[str, Any]) -> dict[str, Any]:
    """What a part says."""
    return {name: made[name] for name in ("answer", "facts", "text")}


def part(name: str, heading: str, made: dict[str, Any]) -> dict[str, Any]:
    """What a part is called and draws; its charts are named after it."""
    charts = [{**chart, "id": f"{name}-{chart['id']}"} for chart in made["charts"]]
    return {"id": name, "heading": heading, "charts": charts}
