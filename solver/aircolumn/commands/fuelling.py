"""``fuelling``: the control unit's table over speed and load, from the tuned one of another manifold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.options import option
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import Answer, Origin, write_text
from aircolumn.errors import RequestError
from aircolumn.fuelling.session import CASES, control_table
from aircolumn.output.fuelling.answer import FuellingFound
from aircolumn.output.fuelling.files import write_table
from aircolumn.output.fuelling.text import fuelling_text
from aircolumn.study.executors import Cores

FEWEST, MOST = 8, 1024  # engines that fit the file


@dataclass(frozen=True)
class Request(options.Workers, options.Tuned, options.GoesOn, options.OneRunner):
    """What ``fuelling`` is asked."""

    pulls: Sequence[Path] = option(
        nargs="+",
        type=Path,
        default=[],
        metavar="DATA.csv",
        help="pulls that were run with this manifold: what they ask of the table (--table may then be its"
        " own)",
    )
    cases: int = option(
        type=int,
        default=CASES,
        metavar="N",
        help=f"engines that fit the file, for how well the change is known (default {CASES})",
    )


def run(request: Request) -> Answer[FuellingFound]:
    """The table, from the points in its folder and those computed now."""
    description, engine, _ = request.chosen()
    request.check_workers()
    if not FEWEST <= request.cases <= MOST:
        raise RequestError(f"--cases must be from {FEWEST} to {MOST}")
    there = request.tables_there(request.pulls)
    own = (n for n, r in description.runners.items() if r == engine.intake.runner)
    name = request.runner or next(own, None)
    if name is None:
        known = ", ".join(description.runners)
        raise RequestError(f"say which manifold the table is for with --runner: {known}")
    executor = Cores(request.workers)
    with Progress(None) as progress:
        found = control_table(description, name, request.out, there, executor, request.cases, progress)
    text = fuelling_text(found, description.with_runner(name))
    counts = f"points: {found.fresh} computed, {found.before} from the store; {found.seconds:.0f} s\n"

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.fuelling.pictures import plot_table  # slow to load

        write_text(folder / "fuelling.txt", text)
        write_table(found, folder)
        plot_table(found, description.engine.title, folder / "fuelling")

    files = [*description.source.files, *found.files]
    return Answer([counts, text], write, files, result=partial(FuellingFound.of, found))
