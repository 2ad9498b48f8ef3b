"""What every page says, and what makes one of its parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from aircolumn.curves.summary import TIE
from aircolumn.display_units import percent
from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.reference import default_of
from aircolumn.engine.uncertain.inputs import assumed, of_all, said_spread, stated
from aircolumn.errors import RequestError

if TYPE_CHECKING:
    from aircolumn.engine.description.candidates import Manifold
    from aircolumn.study.bands.measure_next import Measurement

EVERY = 2.0  # deg between the angles of a cycle that is shown
MODEST = (
    "The shape of a curve and the difference between runners are worth more than its level, which"
    " moves with what the file leaves to assumptions (listed below).",
    f"Differences under {percent(TIE)} are treated as a tie.",
    "A measured pull tells what the engine does.",
)
#: Groups of the file on which no curve depends.
APART = ("part", "pull", "traces", "fuelling", "space", "speeds", "numerics", "units", "title")


def left_to_defaults(engine: FileModel) -> list[tuple[str, str, str]]:
    """(key, value, meaning) of everything the file leaves to its default."""
    return list(_defaults(engine, ""))


def _defaults(part: FileModel, place: str) -> Iterator[tuple[str, str, str]]:
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        key = f"{place}.{field.alias or name}".lstrip(".")
        if key in APART:
            continue
        if isinstance(value, FileModel):
            yield from _defaults(value, key)
        elif name not in part.model_fields_set:
            default = default_of(field)
            if default:
                yield key, default, field.description or ""


def open_keys(
    candidates: Iterable[Manifold], ranked: Sequence[Measurement] = ()
) -> list[tuple[str, str, str]]:
    """(key, how far off it may be, how to settle it) of what the file is not sure of; ranked: those whose
    measurement would do most for the choice first."""
    rows = [*of_all(stated, candidates), *of_all(assumed, candidates)]
    order = {m.key: k for k, m in enumerate(ranked)}
    rows.sort(key=lambda row: order.get(row.key, len(order)))
    return [(row.key, said_spread(row), row.settle) for row in rows]


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
