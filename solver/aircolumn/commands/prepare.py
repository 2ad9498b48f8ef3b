"""``prepare``: make the solver ready ahead of time, for a cluster or an automatic test."""

from dataclasses import dataclass
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.results import Answer


@dataclass(frozen=True)
class Request(options.Arguments):
    """What ``prepare`` is asked: nothing."""


@dataclass(frozen=True)
class Ready:
    """Where machine code is kept."""

    kept_in: Path


def run(request: Request) -> Answer[Ready]:
    """Load, finish or compile the march, and say where its machine code is kept."""
    from aircolumn.flow.compiled.cache import kept_in
    from aircolumn.flow.march.advance import advance

    advance.make()
    folder = kept_in()
    return Answer([f"the solver is ready, kept in {folder}"], wrap=False, result=lambda: Ready(folder))
