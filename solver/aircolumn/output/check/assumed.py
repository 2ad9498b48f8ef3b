"""What a file leaves open, as ``check`` lists it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.engine.uncertain.inputs import assumed, of_all, said_spread, stated

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description
    from aircolumn.engine.uncertain.unsure import Unsure


def assumed_lines(description: Description) -> list[str]:
    """Every value that the file is not sure of, then every value that it leaves out and results depend on,
    with its plausible spread and where that comes from."""
    lines = []
    for title, find in (
        ("Stated with a plus_minus (95 of 100)", stated),
        (
            "Not in the file, so assumed; spreads hold 95 of 100 gasoline engines of cars and motorcycles",
            assumed,
        ),
    ):
        rows = of_all(find, description.candidates.values())
        if rows:
            lines += ["", title, *map(_line, rows)]
    found = description.fitted
    if found is not None:
        lines += ["", f"Fitted to pulls: {', '.join(found.values)} (section fitted)"]
    return [*lines, "", "aircolumn bands says what all this does to the comparison."]


def _line(row: Unsure) -> str:
    source = "" if row.stated else f" ({row.source})"
    return f"  {row.key}: {said_spread(row)}{source}"
