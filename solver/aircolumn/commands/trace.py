"""``trace``: one cycle by crank angle."""

from argparse import ArgumentParser
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.speeds import check_speeds
from aircolumn.curves.tuning.trace import SERIES, trace
from aircolumn.output.plain import plain_dataset
from aircolumn.output.trace.files import write_series


@dataclass(frozen=True)
class Request(options.OneRunner):
    """FILE, speed, runner."""

    rpm: float


def arguments(parser: ArgumentParser) -> None:
    """FILE, speed, runner."""
    options.engine_file(parser)
    parser.add_argument("--rpm", type=float, required=True, metavar="N", help="speed of the cycle")
    options.folder(parser, "folder for results")
    options.runner(parser)


def run(request: Request) -> Answer:
    """One cycle of one engine."""
    description, engine, name = request.chosen()
    (rpm,) = check_speeds(request.rpm)
    with Progress(1):
        data = trace(engine, float(rpm))
    data.attrs["runner"] = name
    ve = f"VE {100 * data.attrs['ve']:.1f} % (trapped air, ambient reference)"
    stem = f"{request.stem('trace')}-{rpm:.10g}"

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.trace.pictures import plot_trace  # slow to load

        write_series(data, folder / f"{stem}.csv")
        netcdf(data, folder / f"{stem}.nc", origin)
        plot_trace(data, folder / stem)

    text, result = f"runner {name}: {ve} at {rpm:.0f} rpm", partial(plain_dataset, data, *SERIES)
    return Answer([text], write, description.source.files, result=result)
