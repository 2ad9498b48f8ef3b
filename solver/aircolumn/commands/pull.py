"""``pull``: measured pulls of one or two manifolds."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import end_with_gaps, results, write_said
from aircolumn.measured.session import measure
from aircolumn.output.pull.text import fitted_file, session_text, write_pull_tables


def arguments(parser):
    """FILE, data files, standard, what to fit."""
    options.engine_file(parser)
    options.data_files(parser)
    parser.add_argument(
        "--standard",
        default=options.USUAL_STANDARD,
        metavar="NAME",
        help=f"one of {options.NAMES_OF_STANDARDS} (default {options.USUAL_STANDARD})",
    )
    parser.add_argument(
        "--fit",
        nargs="+",
        default=[],
        metavar="UNKNOWN",
        help="calibrate on the first runner, test on the second: discharge, fmep, walls, cam",
    )
    options.folder(parser, "folder for results")


def run(args):
    """Compute, print, write."""
    description = options.read(args)
    with Progress(None) as progress:
        data = options.chosen_data(args, description)
        session = measure(description, data, args.standard, args.fit, progress)
    text = session_text(session)
    with results(args, [text]) as folder:
        from aircolumn.output.pull.pictures import plot_pull  # slow to load

        write_said(folder / "pull.txt", text)
        write_pull_tables(session, folder)
        plot_pull(session, folder / "pull")
        if session.calibration is not None:
            (folder / f"{args.file.stem}-fitted.yaml").write_text(fitted_file(session), encoding="utf-8")
    end_with_gaps(*session.gaps())
