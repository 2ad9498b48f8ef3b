"""``check``: what follows from an engine file before anything is marched."""

from aircolumn.commands import options
from aircolumn.description.area_schedule import write_area_schedule
from aircolumn.description.reader import load
from aircolumn.engine.piping import pipe_shape
from aircolumn.report.check import check_text
from aircolumn.report.files import result_folder


def arguments(parser):
    """FILE and a folder for area schedules."""
    options.engine_file(parser)
    options.folder(parser, "write each runner's area schedule there (CSV)")


def run(args):
    """Print; write."""
    description = load(args.file)
    print(check_text(description))
    if args.out is not None:
        _write_schedules(args.out, description)


def _write_schedules(out, description):
    with result_folder(out) as folder:
        for name, runner in description.runners.items():
            write_area_schedule(folder / f"{name}-area.csv", pipe_shape(runner))
    print(f"written to {out}: {', '.join(f'{n}-area.csv' for n in description.runners)}")
