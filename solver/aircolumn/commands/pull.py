"""``pull``: measured pulls of one or two manifolds."""

from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import end_with_gaps, results
from aircolumn.dyno.overlay import FAILURE
from aircolumn.dyno.session import measure
from aircolumn.errors import RequestError
from aircolumn.report.caution import CAUTION
from aircolumn.report.pull_report import session_text, write_tables
from aircolumn.report.tables import wrapped


def arguments(parser):
    """FILE, data files, standard, what to fit."""
    options.engine_file(parser)
    parser.add_argument(
        "data", nargs="+", metavar="RUNNER=DATA.csv", help="data file of a runner; two to compare"
    )
    parser.add_argument(
        "--standard",
        default="j1349",
        metavar="NAME",
        help=f"one of {options.NAMES_OF_STANDARDS} (default j1349)",
    )
    parser.add_argument(
        "--fit", nargs="+", default=[], metavar="UNKNOWN",
        help="calibrate on the first runner, test on the second: discharge, fmep, walls, cam",
    )  # fmt: skip
    options.folder(parser, "folder for results")


def run(args):
    """Compute, print, write."""
    description = options.read(args)
    with Progress(None) as progress:
        data = _data_files(args, description)
        session = measure(description, data, args.standard, args.fit, progress)
    text = session_text(session)
    from aircolumn.report.pull_plots import plot_pull  # loaded during the march

    with results(args, [text]) as folder:
        (folder / "pull.txt").write_text(f"{text}\n\n{wrapped(CAUTION, 80)}\n")
        write_tables(session, folder)
        plot_pull(session, folder / "pull")
    reasons = [why for o in session.overlays.values() for why in o.predicted[FAILURE]]
    end_with_gaps(sum(map(bool, reasons)), len(reasons))


def _data_files(args, description) -> dict:
    """Runner name to data file, from RUNNER=DATA.csv (a file alone: the only runner's)."""
    data = {}
    for text in args.data:
        name, _, path = text.rpartition("=")
        if not name and len(description.runners) == 1:
            (name,) = description.runners
        if not name or not path:
            known = ", ".join(description.runners)
            raise RequestError(
                f"'{text}': say which runner it was measured with: RUNNER={path or 'DATA.csv'}"
                f" (there are: {known})"
            )
        if name in data:
            raise RequestError(f"runner '{name}' has two data files; put its pulls into one")
        data[name] = Path(path)
    return data
