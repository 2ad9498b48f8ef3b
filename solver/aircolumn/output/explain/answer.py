"""Why the humps are where they are, as --json prints it and for the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from aircolumn.curves.tuning.explain import beside
from aircolumn.output.explain.sentences import figures, verdict_of


@dataclass(frozen=True)
class Reason:
    """A hump or dip: where, between which computed speeds (None: well located), the verdict, the figures
    behind it."""

    kind: str
    rpm: float
    ve: float
    between: tuple[float, float] | None
    verdict: str
    figures: list[str]


@dataclass(frozen=True)
class ReasonsFound:
    """Every hump and dip of every runner."""

    runners: dict[str, list[Reason]]

    @classmethod
    def of(cls, explanations: Mapping[str, Sequence[tuple]]) -> ReasonsFound:
        """Of what explain() found of each."""
        return cls({name: _reasons(items) for name, items in explanations.items()})


def _reasons(items: Sequence[tuple]) -> list[Reason]:
    verdicts = (" ".join(verdict_of(e, cause, beside(items, k))) for k, (e, cause, _) in enumerate(items))
    return [
        Reason(e.kind, e.rpm, e.ve, e.between, verdict, figures(cause))
        for (e, cause, _), verdict in zip(items, verdicts, strict=True)
    ]
