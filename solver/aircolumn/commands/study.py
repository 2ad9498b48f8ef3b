"""``study``: sweep, search, sensitivity or tolerance of any keys; resumable."""

from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import end_with_gaps, results, write_said
from aircolumn.errors import RequestError
from aircolumn.output.study.text import answer_text, counts_text, missing_points, write_study_tables
from aircolumn.study.executors import Cluster, Threads
from aircolumn.study.plan import read_study
from aircolumn.study.session import answer


def arguments(parser):
    """FILE, where to compute."""
    parser.add_argument("file", type=Path, metavar="FILE", help="study file (YAML)")
    options.units_option(parser)
    parser.add_argument("--workers", type=int, metavar="N", help="threads (default: all cores)")
    parser.add_argument(
        "--scheduler", metavar="ADDRESS", help="Dask scheduler to compute on: tcp://host:8786"
    )
    options.folder(parser, "folder for the points and results")


def run(args):
    """Compute, print, write."""
    plan = read_study(args.file)
    options.choose_units(args, plan.description)
    if args.workers is not None and not 1 <= args.workers <= 1024:
        raise RequestError("--workers must be from 1 to 1024")
    if args.workers is not None and args.scheduler is not None:
        raise RequestError("--workers is for this machine; a scheduler has its own")
    executor = Cluster(args.scheduler) if args.scheduler else Threads(args.workers)
    try:
        with Progress(None) as progress:
            found = answer(plan, args.out, executor, progress)
    finally:
        executor.close()
    text = answer_text(plan, found)
    failed, points = missing_points(found)
    args.kept = plan.files
    with results(args, [counts_text(found) + "\n", text]) as folder:
        from aircolumn.output.study.pictures import plot_answer  # slow to load

        write_said(folder / "study.txt", text)
        write_study_tables(plan, found, folder, args.origin)
        plot_answer(plan, found, folder)
    end_with_gaps(failed, points)
