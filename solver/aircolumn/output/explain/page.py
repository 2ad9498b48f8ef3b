"""The reasons on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.curves.tuning.explain import beside
from aircolumn.output.explain.sentences import figures, verdict_of

if TYPE_CHECKING:
    pass


def reasons(explanations: dict[str, Any]) -> dict[str, list[dict[str, str]]]:
    """Why each runner's humps and hollows are there: a verdict, and the figures behind it."""
    return {
        name: [
            {
                "verdict": " ".join(verdict_of(e, c, beside(items, k))),
                "figures": " ".join(figures(c)),
            }
            for k, (e, c, _) in enumerate(items)
        ]
        for name, items in explanations.items()
    }
