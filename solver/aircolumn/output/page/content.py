"""What every page says."""

from collections.abc import Iterator

from aircolumn.curves.summary import TIE
from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.reference import default_of

EVERY = 2.0  # deg between the angles of a cycle that is shown
MODEST = (
    "The shape of a curve and the difference between runners are worth more than its level, which"
    " moves with what the file leaves to assumptions (listed below).",
    f"Differences under {100 * TIE:g} % are treated as a tie.",
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
