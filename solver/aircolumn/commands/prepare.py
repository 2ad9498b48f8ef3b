"""``prepare``: make the solver ready ahead of time, for a cluster or an automatic test."""

from argparse import ArgumentParser
from dataclasses import dataclass

from aircolumn.commands.results import Answer


@dataclass(frozen=True)
class Request:
    """Nothing."""


def arguments(parser: ArgumentParser) -> None:
    """None."""


def run(request: Request) -> Answer:
    """Load, finish or compile the march, and say where its machine code is kept."""
    from aircolumn.flow.compiled.cache import kept_in
    from aircolumn.flow.march.advance import advance

    advance.make()
    folder = str(kept_in())
    return Answer([f"the solver is ready, kept in {folder}"], wrap=False, result=lambda: {"kept_in": folder})
