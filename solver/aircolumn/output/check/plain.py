"""What ``check`` says of a file, as plain data."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from aircolumn.engine.uncertain.inputs import assumed, of_all, said_spread, stated
from aircolumn.output.check.text import doubts

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description


def plain_check(description: Description) -> dict[str, Any]:
    """Candidates, what the file is not sure of, what it leaves out, and what is doubtful."""
    return {
        "candidates": {
            name: {
                "differs_in": [".".join(map(str, path)) for path in one.own],
                "runner_length": one.engine.intake.runner.total_length,
            }
            for name, one in description.candidates.items()
        },
        "stated": _rows(stated, description),
        "assumed": _rows(assumed, description),
        "doubts": doubts(description.engine),
    }


def _rows(find: Callable, description: Description) -> list[dict[str, str]]:
    rows = of_all(find, description.candidates.values())
    return [
        {"key": row.key, "said": said_spread(row), "source": row.source, "settle": row.settle} for row in rows
    ]
