"""Results to a folder, what was written, and points that are missing."""

from contextlib import contextmanager
from pathlib import Path

from aircolumn.curves.labelled import failed_points
from aircolumn.errors import ComputationError
from aircolumn.report.caution import CAUTION
from aircolumn.report.files import result_folder, write_csv, write_netcdf, write_switched
from aircolumn.report.inlet_report import choke_text
from aircolumn.report.tables import cylinders_table, gaps_text


@contextmanager
def results(args):
    """Yield the scratch folder of the results; afterwards say what was written, and the caution."""
    out = args.out or Path(f"{args.file.stem}-{args.command}")
    with result_folder(out) as folder:
        yield folder
        names = sorted(p.name for p in folder.iterdir())
    print(f"\nwritten to {out}: {', '.join(names)}\n{CAUTION}")


@contextmanager
def gaps_told(data):
    """Print the points that could not be computed; once the results are written, the command ends
    as one that could not compute everything."""
    failed = failed_points(data)
    if failed:
        print("\n" + gaps_text(data))
    yield
    end_with_gaps(len(failed), data.ve.size)


def end_with_gaps(missing: int, total: int):
    """Raise ComputationError if points are missing."""
    if missing:
        raise ComputationError(f"{missing} of {total} points; the others are written")


def tell_choke(data, engine):
    """Print where the restrictor of the inlet chokes, if it has one."""
    text = choke_text(data, engine)
    if text:
        print("\n" + text)


def write_curves(args, data, speeds, manifolds=()):
    """Table, NetCDF and pictures of a Dataset of curves, and VE of each cylinder; manifolds: what
    switchable ones make of them."""
    from aircolumn.report.plots import plot_cylinders, plot_runners  # loaded during the march

    with gaps_told(data), results(args) as folder:
        write_csv(data, folder / f"{args.command}.csv")
        write_netcdf(data, folder / f"{args.command}.nc")
        plot_runners(data, speeds, folder / args.command, manifolds)
        if manifolds:
            write_switched(manifolds, folder / f"{args.command}-switchable.csv")
        if data.sizes["cylinder"] > 1:
            plot_cylinders(data, folder / f"{args.command}-cylinders")
            print("\nVE of each cylinder, %\n" + cylinders_table(data))
