"""Why the humps are where they are, as plain data and for the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from aircolumn.curves.tuning.explain import beside
from aircolumn.output.explain.sentences import figures, verdict_of
from aircolumn.output.plain import as_plain


def plain_reasons(explanations: Mapping[str, Sequence[tuple]]) -> dict[str, Any]:
    """Every hump and hollow of every runner: where, the verdict and the figures."""
    return {
        "runners": {
            name: [
                {
                    "kind": extremum.kind,
                    "rpm": float(extremum.rpm),
                    "ve": float(extremum.ve),
                    "between": as_plain(extremum.between),
                    "verdict": " ".join(verdict_of(extremum, cause, beside(items, k))),
                    "figures": figures(cause),
                }
                for k, (extremum, cause, _) in enumerate(items)
            ]
            for name, items in explanations.items()
        }
    }


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
