"""Results to a folder, what is said of them, and points that are missing."""

from contextlib import contextmanager

from aircolumn.curves.labelled import failed_points
from aircolumn.errors import ComputationError
from aircolumn.report.caution import CAUTION
from aircolumn.report.files import (
    result_folder,
    write_csv,
    write_netcdf,
    write_origin,
    write_switched,
)
from aircolumn.report.tables import cylinders_table, gaps_text, wrapped


@contextmanager
def results(args, said, data=None, kept=()):
    """Yield the scratch folder of the results. Once they are written, print the texts of ``said``
    (a list that may still grow), what was written, and the caution: files first, so that whoever
    closes the pipe early has them.

    kept: files the results are of, beside the one named first, of which a copy is kept as well.
    data: a Dataset whose missing points are told; the command then ends as one that could not
    compute everything.
    """
    with result_folder(args.out) as folder:
        yield folder
        write_origin(args.origin, (args.file, *kept), args.out, folder)
        names = sorted(p.name for p in folder.iterdir())
    failed = [] if data is None else failed_points(data)
    texts = [*said, f"\n{gaps_text(data)}" if failed else ""]
    print(wrapped("\n".join(text for text in texts if text)))
    print(wrapped(f"\nwritten to {args.out}: {', '.join(names)}\n{CAUTION}"))
    if failed:
        end_with_gaps(len(failed), data.ve.size)


def end_with_gaps(missing: int, total: int):
    """Raise ComputationError if points are missing."""
    if missing:
        raise ComputationError(f"{missing} of {total} points; the others are written")


def netcdf(args, data, path):
    """A Dataset as NetCDF, with where it comes from."""
    write_netcdf(data.assign_attrs(args.origin), path)


def write_curves(args, said, data, speeds, manifolds=()):
    """Table, NetCDF and pictures of a Dataset of curves, and VE of each cylinder; manifolds: what
    switchable ones make of them."""
    from aircolumn.report.plots import plot_cylinders, plot_runners  # loaded during the march

    if data.sizes["cylinder"] > 1:
        said.append("\nVE of each cylinder, %\n" + cylinders_table(data))
    with results(args, said, data) as folder:
        write_csv(data, folder / f"{args.stem}.csv")
        netcdf(args, data, folder / f"{args.stem}.nc")
        plot_runners(data, speeds, folder / args.stem, manifolds)
        if manifolds:
            write_switched(manifolds, folder / f"{args.stem}-switchable.csv")
        if data.sizes["cylinder"] > 1:
            plot_cylinders(data, folder / f"{args.stem}-cylinders")
