"""``trace``: one cycle by crank angle."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import netcdf, results
from aircolumn.curves.speeds import check_speeds
from aircolumn.curves.tuning.trace import trace
from aircolumn.output.trace.files import write_series


def arguments(parser):
    """FILE, speed, runner."""
    options.engine_file(parser)
    parser.add_argument("--rpm", type=float, required=True, metavar="N", help="speed of the cycle")
    options.folder(parser, "folder for results")
    options.runner(parser)


def run(args):
    """Compute, print, write."""
    engine, name = options.chosen_engine(args)
    (rpm,) = check_speeds(args.rpm)
    with Progress(1):
        data = trace(engine, float(rpm))
    data.attrs["runner"] = name
    texts = [
        f"runner {name}: VE {100 * data.attrs['ve']:.1f} % (trapped air, ambient reference) at {rpm:.0f} rpm"
    ]
    stem = f"{args.stem}-{rpm:.10g}"
    with results(args, texts) as folder:
        from aircolumn.output.trace.pictures import plot_trace  # slow to load

        write_series(data, folder / f"{stem}.csv")
        netcdf(args, data, folder / f"{stem}.nc")
        plot_trace(data, folder / stem)
