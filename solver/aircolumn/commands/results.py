"""Results to a folder, what is said of them, and points that are missing."""

from contextlib import contextmanager

from aircolumn.curves.to_xarray import failed_points
from aircolumn.errors import ComputationError, clean, output_is_closed
from aircolumn.output.caution import CAUTION, SHORT
from aircolumn.output.curves.files import write_csv, write_switched
from aircolumn.output.curves.text import cylinders_table
from aircolumn.output.data_files import write_netcdf
from aircolumn.output.folders import check_same, write_origin
from aircolumn.output.replace import result_folder
from aircolumn.output.tables import gaps_text, wrapped


@contextmanager
def results(args, texts, data=None):
    """Print the texts of ``texts``, then yield the scratch folder of the results; say what was
    written, and the caution. Whoever closes the pipe early has the files all the same.

    args.kept: the files the results are of, as they were read. data: a Dataset whose missing points
    are told; the command then ends as one that could not compute everything.
    """
    failed = [] if data is None else failed_points(data)
    texts = [*texts, f"\n{gaps_text(data)}" if failed else ""]
    _say("\n".join(text for text in texts if text))
    with result_folder(args.out) as folder:
        yield folder
        check_same(args.out, args.origin)  # another machine may have filled it meanwhile
        write_origin(args.origin, args.kept, args.out, folder)
        names = sorted(p.name for p in folder.iterdir())
    _say(f"\nwritten to {args.out}: {', '.join(names)}\n{SHORT}")
    if failed:
        end_with_gaps(len(failed), data.ve.size)


def write_said(path, text: str):
    """A report as a text file, with the caution in full."""
    path.write_text(f"{clean(text)}\n\n{wrapped(CAUTION, 80)}\n", encoding="utf-8")


def _say(text: str):
    """Print at once what may be read while files are still written."""
    try:
        print(wrapped(text), flush=True)
    except BrokenPipeError:
        output_is_closed()


def end_with_gaps(missing: int, total: int):
    """Raise ComputationError if points are missing."""
    if missing:
        raise ComputationError(f"{missing} of {total} points; the others are written")


def netcdf(args, data, path):
    """A Dataset as NetCDF, with where it comes from."""
    write_netcdf(data.assign_attrs(args.origin), path)


def write_curves(args, texts, data, speeds, manifolds=()):
    """Table, NetCDF and pictures of a Dataset of curves, and VE of each cylinder; manifolds: what
    switchable ones make of them."""
    if data.sizes["cylinder"] > 1:
        texts.append("\nVE of each cylinder, %\n" + cylinders_table(data))
    with results(args, texts, data) as folder:
        write_csv(data, folder / f"{args.stem}.csv")
        netcdf(args, data, folder / f"{args.stem}.nc")
        from aircolumn.output.curves.pictures import plot_cylinders, plot_runners  # slow to load

        plot_runners(data, speeds, folder / args.stem, manifolds)
        if manifolds:
            write_switched(manifolds, folder / f"{args.stem}-switchable.csv")
        if data.sizes["cylinder"] > 1:
            plot_cylinders(data, folder / f"{args.stem}-cylinders")
