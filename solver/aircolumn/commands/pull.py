"""``pull``: measured pulls of one or two manifolds."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.options import option, switch
from aircolumn.commands.results import Answer, Origin, write_text
from aircolumn.engine.description.reader import Description
from aircolumn.measured.logs.columns import understood
from aircolumn.measured.session import measure
from aircolumn.output.pull.answer import ColumnsFound, PullsFound
from aircolumn.output.pull.columns import columns_text, mapping_file
from aircolumn.output.pull.text import fitted_file, session_text, write_pull_tables
from aircolumn.study.bands.next_manifold import next_manifold


@dataclass(frozen=True)
class Request(options.Pulls, options.Keeps, options.EngineFile):
    """What ``pull`` is asked."""

    standard: str = option(
        default="",
        metavar="NAME",
        help=f"one of {options.NAMES_OF_STANDARDS}, or observed (default j1349; of supplied air observed)",
    )
    fit: Sequence[str] = option(
        nargs="+",
        default=[],
        metavar="UNKNOWN",
        help="calibrate on the first runner, test on the second: discharge, fmep, walls, cam",
    )
    columns: bool = switch("show what each heading is read as and what is missing, and write the mapping")


def run(request: Request) -> Answer[PullsFound | ColumnsFound]:
    """Measured pulls, the prediction laid over them, and what was fitted."""
    description = request.read()
    if request.columns:
        return _columns(request, description)
    with request.progress() as progress:
        data = options.data_by_runner(request.data, description)
        session = measure(description, data, request.standard, request.fit, progress)
        if request.next is not None:
            session.next = next_manifold(description, session, request.next, request.out, progress=progress)
    text = session_text(session)

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.pull.pictures import plot_pull  # slow to load

        write_text(folder / "pull.txt", text)
        write_pull_tables(session, folder)
        plot_pull(session, folder / "pull")
        if session.calibration is not None:
            fitted = folder / f"{request.file.stem}-fitted.yaml"
            fitted.write_text(fitted_file(session), encoding="utf-8")

    result = partial(PullsFound.of, session)
    return Answer([text], write, description.source.files, *session.gaps(), result=result)


def _columns(request: Request, description: Description) -> Answer[ColumnsFound]:
    """What the data files' headings are read as."""
    names = [text.partition("=")[2] or text for text in request.data]
    files = [understood(Path(name), description.engine.pull) for name in names]

    def write(folder: Path, origin: Origin) -> None:
        (folder / "pull-columns.yaml").write_text(mapping_file(files), encoding="utf-8")

    text = columns_text(files)
    return Answer([text], write, description.source.files, wrap=False, result=partial(ColumnsFound.of, files))
