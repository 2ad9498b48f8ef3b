"""``map``: VE over speed and runner length or bore."""

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import netcdf, results
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.description.units import to_si
from aircolumn.errors import RequestError
from aircolumn.report.files import write_map
from aircolumn.report.tables import map_table
from aircolumn.tuning.tuning_map import tuning_map

#: What the map varies, and its usual range.
RANGES = {"length": ("200 mm", "900 mm"), "bore": ("34 mm", "50 mm")}
FEWEST = 3  # speeds that show a hump


def arguments(parser):
    """FILE, what is varied and its range, speeds."""
    options.engine_file(parser)
    parser.add_argument(
        "--vary",
        choices=list(RANGES),
        default="length",
        help="what of the runner (default length)",
    )
    for name, k in (("--from", 0), ("--to", 1)):
        usual = ", ".join(f"{r[k]} for {v}" for v, r in RANGES.items())
        parser.add_argument(
            name, dest=name[2:] + "_", metavar="SIZE", help=f"with its unit (default {usual})"
        )
    parser.add_argument("--steps", type=int, default=15, metavar="N", help="sizes (default 15)")
    options.speeds(parser)
    options.folder(parser)


def run(args):
    """Compute, print, write."""
    engine = options.read(args).engine
    sizes = _sizes(args)
    speeds = chosen_speeds(engine, args.rpm)
    if len(speeds) < FEWEST:
        raise RequestError(f"a map needs {FEWEST} or more speeds to find humps between; --rpm has"
                           f" {len(speeds)}")  # fmt: skip
    with Progress(len(sizes) * len(speeds)) as progress:
        data = tuning_map(engine, sizes, speeds, progress, vary=args.vary)
    said = [map_table(data)]
    stem = "map" if args.vary == "length" else f"map-{args.vary}"
    with results(args, said, data) as folder:
        from aircolumn.report.plots import plot_map  # slow to load

        write_map(data, folder / f"{stem}.csv")
        netcdf(args, data, folder / f"{stem}.nc")
        plot_map(data, folder / stem)


def _sizes(args):
    """The lengths or bores asked for, m."""
    usual = RANGES[args.vary]
    try:
        first, last = to_si(args.from_ or usual[0], "length"), to_si(args.to_ or usual[1], "length")
    except ValueError as error:
        raise RequestError(f"--from and --to: {error}") from None
    if not 2 <= args.steps <= 200 or last <= first:
        raise RequestError("--steps must be from 2 to 200, and --to greater than --from")
    return np.linspace(first, last, args.steps)
