"""The answer of the commands that compute curves."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.commands.datasets import netcdf, with_gaps
from aircolumn.commands.results import Answer, Origin
from aircolumn.curves.against import Gain
from aircolumn.curves.switchable import Switched
from aircolumn.engine.description.reader import Description
from aircolumn.output.curves.against import plot_gains, write_gains
from aircolumn.output.curves.answer import CurvesFound
from aircolumn.output.curves.files import write_csv, write_switched
from aircolumn.output.curves.text import cylinders_table

if TYPE_CHECKING:
    import xarray as xr


def curves_answer(
    texts: Sequence[str],
    data: xr.Dataset,
    description: Description,
    stem: str,
    manifolds: Sequence[Switched] = (),
    against: Sequence[Gain] = (),
) -> Answer[CurvesFound]:
    """Table, NetCDF and pictures of a Dataset of curves, and VE of each cylinder; manifolds: what
    switchable ones make of them; against: the gains over one runner."""
    several = data.sizes["cylinder"] > 1
    of_each = "\nVE of each cylinder, %\n" + cylinders_table(data) if several else ""

    def write(folder: Path, origin: Origin) -> None:
        write_csv(data, folder / f"{stem}.csv")
        netcdf(data, folder / f"{stem}.nc", origin)
        from aircolumn.output.curves.pictures import plot_cylinders, plot_runners  # slow to load

        plot_runners(data, description.engine.speeds, folder / stem, manifolds)
        if manifolds:
            write_switched(manifolds, folder / f"{stem}-switchable.csv")
        if against:
            name = f"{stem}-against-{against[0].base}"
            write_gains(against, folder / f"{name}.csv")
            plot_gains(data, against, description.engine.speeds, folder / name)
        if several:
            plot_cylinders(data, folder / f"{stem}-cylinders")

    result = partial(CurvesFound.of, data, description.engine.speeds, against)
    return with_gaps([*texts, of_each], data, write, description.source.files, result)
