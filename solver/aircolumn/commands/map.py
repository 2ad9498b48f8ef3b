"""``map``: VE over speed and runner length or bore."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf, with_gaps
from aircolumn.commands.options import option
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.curves.tuning.tuning_map import tuning_map
from aircolumn.engine.description.units import to_si
from aircolumn.errors import RequestError
from aircolumn.output.map.text import map_table, write_map
from aircolumn.output.plain import LabelledTable

#: What the map varies, and its usual range.
LENGTHS = "200 mm", "900 mm"
BORES = 0.8, 1.2  # times the bore at the port
FEWEST = 3  # speeds that show a hump


def _usual(k: int) -> str:
    return f"with its unit (default {LENGTHS[k]} for length, {BORES[k]:g} times the runner's for bore)"


@dataclass(frozen=True)
class Request(options.GivenSpeeds, options.Keeps, options.OneRunner):
    """What ``map`` is asked."""

    vary: str = option(
        choices=["length", "bore"], default="length", help="what of the runner (default length)"
    )
    first: str | None = option("--from", metavar="SIZE", help=_usual(0))
    last: str | None = option("--to", metavar="SIZE", help=_usual(1))
    steps: int = option(type=int, default=15, metavar="N", help="sizes (default 15)")


def run(request: Request) -> Answer[LabelledTable]:
    """The tuning map of one engine."""
    description, engine, name = request.chosen()
    sizes = _sizes(request, engine.intake.runner.last_bore)
    speeds = chosen_speeds(engine, request.rpm)
    if len(speeds) < FEWEST:
        raise RequestError(
            f"a map needs {FEWEST} or more speeds to find humps between; --rpm has {len(speeds)}"
        )
    with request.progress(len(sizes) * len(speeds)) as progress:
        data = tuning_map(engine, sizes, speeds, progress, vary=request.vary)
    stem = "-".join(filter(None, ("map", "" if request.vary == "length" else request.vary, request.runner)))

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.map.pictures import plot_map  # slow to load

        write_map(data, folder / f"{stem}.csv")
        netcdf(data, folder / f"{stem}.nc", origin)
        plot_map(data, folder / stem)

    return with_gaps([request.line(name), map_table(data)], data, write, description.source.files)


def _sizes(request: Request, bore: float) -> np.ndarray:
    """The lengths or bores asked for, m; ``bore``: the runner's own. Raises RequestError."""
    usual = LENGTHS if request.vary == "length" else tuple(f"{k * bore!r} m" for k in BORES)
    try:
        first, last = to_si(request.first or usual[0], "length"), to_si(request.last or usual[1], "length")
    except ValueError as error:
        raise RequestError(f"--from and --to: {error}") from None
    if not 2 <= request.steps <= 200 or last <= first:
        raise RequestError("--steps must be from 2 to 200, and --to greater than --from")
    return np.linspace(first, last, request.steps)
