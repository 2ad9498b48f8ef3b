"""``account``: why VE is not 1."""

from dataclasses import dataclass
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf, with_gaps
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.curves.tuning.filling_account import EFFECTS, filling_account
from aircolumn.output.account.text import account_table, write_account
from aircolumn.output.plain import LabelledTable


@dataclass(frozen=True)
class Request(options.GivenSpeeds, options.Keeps, options.OneRunner):
    """What ``account`` is asked."""


def run(request: Request) -> Answer[LabelledTable]:
    """The filling account of one engine."""
    description, engine, name = request.chosen()
    speeds = chosen_speeds(engine, request.rpm)
    with request.progress(len(speeds) * 2 * len(EFFECTS)) as progress:
        data = filling_account(engine, speeds, progress)
    data.attrs["runner"] = name
    stem = request.stem("account")

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.account.pictures import plot_account  # slow to load

        write_account(data, folder / f"{stem}.csv")
        netcdf(data, folder / f"{stem}.nc", origin)
        plot_account(data, folder / stem)

    return with_gaps([request.line(name), account_table(data)], data, write, description.source.files)
