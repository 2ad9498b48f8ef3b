"""``bands``: how sure the comparison of a file's runners is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.options import option
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import Answer, Origin, write_text
from aircolumn.curves.speeds import speeds_of
from aircolumn.engine.description.given import check_speeds
from aircolumn.errors import RequestError
from aircolumn.output.bands.answer import BandsFound
from aircolumn.output.bands.files import write_bands
from aircolumn.output.bands.text import how_sure_text
from aircolumn.study.bands.kept import keep_bands
from aircolumn.study.bands.session import USUAL, how_sure
from aircolumn.study.executors import Cores


@dataclass(frozen=True)
class Request(options.Workers, options.GivenSpeeds, options.GoesOn, options.EngineFiles):
    """What ``bands`` is asked."""

    against: str | None = option(
        metavar="RUNNER",
        help="set the others against this one (default: the one with the most mean torque)",
    )
    cases: int = option(
        type=int,
        default=USUAL,
        metavar="N",
        help=f"engines that fit the file, to compute (default {USUAL}); more go on from fewer",
    )


def run(request: Request) -> Answer[BandsFound]:
    """The verdict, from the points in its folder and those computed now."""
    description = request.read()
    if request.against is not None:
        options.check_candidate(description, request.against, request.file)
    request.check_workers()
    speeds = speeds_of(description.engine) if request.rpm is None else check_speeds(request.rpm)
    if len(speeds) < 2:
        raise RequestError("two engine speeds or more are needed")
    executor = Cores(request.workers)
    with Progress(None) as progress:
        found = how_sure(description, speeds, request.out, executor, request.cases, request.against, progress)
    text = how_sure_text(found)
    counts = f"points: {found.fresh} computed, {found.before} from the store; {found.seconds:.0f} s\n"

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.bands.pictures import plot_bands  # slow to load

        write_text(folder / "bands.txt", text)
        write_bands(found, folder)
        keep_bands(found, description, folder)
        plot_bands(found, description.engine.title, folder / "bands")

    return Answer([counts, text], write, description.source.files, result=partial(BandsFound.of, found))
