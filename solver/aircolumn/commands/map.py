"""``map``: VE over speed and runner length or bore."""

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import netcdf, results
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.curves.tuning.tuning_map import tuning_map
from aircolumn.engine.description.units import to_si
from aircolumn.errors import RequestError
from aircolumn.output.map.files import write_map
from aircolumn.output.map.text import map_table

#: What the map varies, and its usual range.
LENGTHS = "200 mm", "900 mm"
BORES = 0.8, 1.2  # times the bore at the port
FEWEST = 3  # speeds that show a hump


def arguments(parser):
    """FILE, what is varied and its range, speeds."""
    options.engine_file(parser)
    parser.add_argument(
        "--vary",
        choices=["length", "bore"],
        default="length",
        help="what of the runner (default length)",
    )
    for name, k in (("--from", 0), ("--to", 1)):
        usual = f"{LENGTHS[k]} for length, {BORES[k]:g} times the runner's for bore"
        parser.add_argument(
            name, dest=name[2:] + "_", metavar="SIZE", help=f"with its unit (default {usual})"
        )
    parser.add_argument("--steps", type=int, default=15, metavar="N", help="sizes (default 15)")
    options.speeds(parser)
    options.folder(parser)


def run(args):
    """Compute, print, write."""
    engine = options.read(args).engine
    sizes = _sizes(args, engine.intake.runner.last_bore)
    speeds = chosen_speeds(engine, args.rpm)
    if len(speeds) < FEWEST:
        raise RequestError(
            f"a map needs {FEWEST} or more speeds to find humps between; --rpm has {len(speeds)}"
        )
    with Progress(len(sizes) * len(speeds)) as progress:
        data = tuning_map(engine, sizes, speeds, progress, vary=args.vary)
    texts = [map_table(data)]
    stem = "map" if args.vary == "length" else f"map-{args.vary}"
    with results(args, texts, data) as folder:
        from aircolumn.output.map.pictures import plot_map  # slow to load

        write_map(data, folder / f"{stem}.csv")
        netcdf(args, data, folder / f"{stem}.nc")
        plot_map(data, folder / stem)


def _sizes(args, bore: float):
    """The lengths or bores asked for, m; ``bore``: the runner's own."""
    usual = LENGTHS if args.vary == "length" else tuple(f"{k * bore!r} m" for k in BORES)
    try:
        first, last = to_si(args.from_ or usual[0], "length"), to_si(args.to_ or usual[1], "length")
    except ValueError as error:
        raise RequestError(f"--from and --to: {error}") from None
    if not 2 <= args.steps <= 200 or last <= first:
        raise RequestError("--steps must be from 2 to 200, and --to greater than --from")
    return np.linspace(first, last, args.steps)
