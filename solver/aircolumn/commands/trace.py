"""``trace``: one cycle by crank angle."""

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import results
from aircolumn.curves.speeds import check_speeds
from aircolumn.report.files import write_netcdf, write_series
from aircolumn.tuning.trace import trace


def arguments(parser):
    """FILE, speed, runner."""
    options.engine_file(parser)
    parser.add_argument("--rpm", type=float, required=True, metavar="N", help="speed of the cycle")
    options.folder(parser, "folder for results")
    options.runner(parser)


def run(args):
    """Compute, print, write."""
    engine = options.chosen_engine(args)
    (rpm,) = check_speeds(args.rpm)
    with Progress(1):
        data = trace(engine, float(rpm))
    print(f"VE {100 * data.attrs['ve']:.1f} % (trapped air, ambient reference) at {rpm:.0f} rpm")
    from aircolumn.report.trace_plots import plot_trace  # loaded during the march

    with results(args) as folder:
        write_series(data, folder / "trace.csv")
        write_netcdf(data, folder / "trace.nc")
        plot_trace(data, folder)
