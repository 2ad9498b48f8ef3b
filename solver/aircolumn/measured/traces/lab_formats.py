"""Binary files of labs as columns of numbers: Parquet, HDF5, TDMS, MDF, MAT of version 5.

Each is read in a process of its own with a limit of memory and time: what a header says is looked at before
anything is unpacked, and where it lies, the process ends and nothing else does.

``python -m aircolumn.measured.traces.lab_formats FOLDER FILE`` reads FILE; what it finds it puts into FOLDER,
columns as .npy and headings as JSON.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

MOST_ROWS, MOST_COLUMNS = 5_000_000, 300
MOST_CELLS = 30_000_000  # numbers in all columns together
MEMORY, PER_CELL = 350e6, 16.0  # bytes beyond what the libraries take
SECONDS, CELLS_A_SECOND = 3, 3e6  # of CPU
SAID, FOUND = "said.json", "found.json"


class Announced(NamedTuple):
    """A column that a header announces: heading, unit, how many numbers, and how to read them."""

    name: str
    unit: str
    rows: int
    read: Callable[[], Any]


class Refused(ValueError):
    """What is wrong with a file, in words."""


def read_apart(path: Path) -> tuple[dict[str, np.ndarray], dict[str, str], dict[str, str]]:
    """(columns, units, columns that are not used and why) of a file, read in a process of its own. Raises
    Refused; ImportError without the library that reads such files."""
    with tempfile.TemporaryDirectory(prefix="aircolumn-") as place:
        run = [sys.executable, "-m", __name__, place, str(path.absolute())]
        done = subprocess.run(run, capture_output=True, check=False)
        folder = Path(place)
        with suppress(OSError, ValueError):
            said = json.loads((folder / SAID).read_text(encoding="utf-8"))
            raise ImportError(said["missing"]) if "missing" in said else Refused(said["refused"])
        if done.returncode != 0 or not (folder / FOUND).exists():
            raise Refused(
                "it takes more memory or time than its size allows: its header does not say what it holds"
            )
        found = json.loads((folder / FOUND).read_text(encoding="utf-8"))
        columns = {name: np.load(folder / f"{k}.npy") for k, (name, _) in enumerate(found["columns"])}
        return columns, {name: unit for name, unit in found["columns"] if unit}, found["left"]


def read_into(place: str, path: str) -> None:
    """Read a file into a folder."""
    folder = Path(place)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the libraries, about files that are then refused
            _read(Path(path), folder)
    except ImportError as error:
        (folder / SAID).write_text(json.dumps({"missing": str(error)}), encoding="utf-8")
    except MemoryError:
        sys.exit(1)
    except Refused as error:
        (folder / SAID).write_text(json.dumps({"refused": str(error)}), encoding="utf-8")
    except Exception as error:  # whatever a library meets in a damaged file
        said = f"cannot be read ({type(error).__name__})"
        (folder / SAID).write_text(json.dumps({"refused": said}), encoding="utf-8")


def _read(path: Path, folder: Path) -> None:
    _limit(0)  # the header too
    announced = list(HEADERS[path.suffix.lower()](path))
    longest = max((c.rows for c in announced), default=0)
    chosen = [c for c in announced if c.rows == longest]
    if longest > MOST_ROWS:
        raise Refused(f"{longest} rows; at most {MOST_ROWS} are read")
    if len(chosen) > MOST_COLUMNS:
        raise Refused(f"{len(chosen)} columns; at most {MOST_COLUMNS}")
    cells = longest * len(chosen)
    if cells > MOST_CELLS:
        raise Refused(f"{cells} numbers; at most {MOST_CELLS} are read: leave columns out")
    _limit(cells)
    headings = []
    for k, column in enumerate(chosen):
        values = np.asarray(column.read(), dtype=float)
        if values.shape != (longest,):
            raise Refused(f"'{column.name[:40]}' holds {values.size} numbers, {longest} are announced")
        if not np.isfinite(values).all():
            raise Refused(f"'{column.name[:40]}' has values that are no numbers")
        np.save(folder / f"{k}.npy", values)
        headings.append((column.name, column.unit))
    left = {c.name: f"{c.rows} numbers where others have {longest}" for c in announced if c.rows != longest}
    (folder / FOUND).write_text(json.dumps({"columns": headings, "left": left}), encoding="utf-8")


def _limit(cells: int) -> None:
    """Of this process's memory and time, where the system can."""
    try:
        import resource
    except ImportError:
        return
    with suppress(OSError, ValueError):
        pages = int(Path("/proc/self/statm").read_text().split()[0])
        most = int(pages * resource.getpagesize() + MEMORY + PER_CELL * cells)
        resource.setrlimit(resource.RLIMIT_AS, (most, resource.RLIM_INFINITY))
    used = resource.getrusage(resource.RUSAGE_SELF)
    seconds = int(used.ru_utime + used.ru_stime + SECONDS + cells / CELLS_A_SECOND) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))


def _parquet(path: Path) -> Iterator[Announced]:
    import pyarrow as pa
    import pyarrow.parquet as parquet

    pa.set_memory_pool(pa.system_memory_pool())
    pa.set_cpu_count(1)
    _limit(0)
    file = parquet.ParquetFile(path)
    for field in file.schema_arrow:
        if pa.types.is_floating(field.type) or pa.types.is_integer(field.type):
            yield Announced(
                field.name, "", file.metadata.num_rows, partial(_parquet_column, file, field.name)
            )


def _parquet_column(file: Any, name: str) -> Any:
    return file.read([name], use_threads=False)[name].to_numpy()


def _hdf5(path: Path) -> Iterator[Announced]:
    import h5py

    _limit(0)
    file, found = h5py.File(path, "r"), []

    def look(name: str, item: Any) -> None:
        if isinstance(item, h5py.Dataset) and item.ndim == 1 and item.size and item.dtype.kind in "fiu":
            stated = item.attrs.get("units", item.attrs.get("unit", ""))
            unit = stated.decode() if isinstance(stated, bytes) else str(stated)
            found.append(Announced(name, unit, int(item.size), partial(item.__getitem__, ())))

    file.visititems(look)
    return iter(found)


def _tdms(path: Path) -> Iterator[Announced]:
    from nptdms import TdmsFile

    _limit(0)
    file = TdmsFile.open(path)
    for channel in (c for group in file.groups() for c in group.channels()):
        if channel.dtype.kind in "fiu":
            unit = str(channel.properties.get("unit_string", ""))
            yield Announced(channel.name, unit, len(channel), partial(channel.__getitem__, slice(None)))


def _mdf(path: Path) -> Iterator[Announced]:
    from asammdf import MDF

    _limit(0)
    file = MDF(path)
    sizes = [int(group.channel_group.cycles_nr) for group in file.groups]
    if not sizes:
        return
    number = int(np.argmax(sizes))
    group: Any = file.groups[number]
    if sizes[number] > MOST_ROWS or len(group.channels) > MOST_COLUMNS:
        yield Announced("time", "s", sizes[number], list)
        return
    for index, channel in enumerate(group.channels):
        signal = file.get(group=number, index=index)
        if index == 0:
            yield Announced("time", "s", sizes[number], partial(np.asarray, signal.timestamps))
        if channel.name.lower() not in ("time", "t") and np.asarray(signal.samples).dtype.kind in "fiu":
            yield Announced(
                channel.name, str(signal.unit), sizes[number], partial(np.asarray, signal.samples)
            )


def _mat(path: Path) -> Iterator[Announced]:
    """Arrays of a MAT file, also those of its structures: one of angles by cycles goes on from cycle to
    cycle, and one of angles alone is repeated for each."""
    from scipy.io import loadmat

    _limit(0)
    try:
        data = loadmat(path, squeeze_me=True, struct_as_record=False)
    except NotImplementedError:
        raise Refused("a MAT file of version 7.3, which is HDF5: name it .h5") from None
    arrays = dict(_arrays("", {k: v for k, v in data.items() if not k.startswith("__")}))
    cycles = max((a.shape for a in arrays.values() if a.ndim == 2), key=np.prod, default=(0, 1))
    for name, a in arrays.items():
        if a.ndim == 2:
            yield Announced(name, "", a.size, partial(a.ravel, "F"))
        elif a.ndim == 1:
            times = cycles[1] if a.size == cycles[0] else 1
            yield Announced(name, "", a.size * times, partial(np.tile, a, times))


def _arrays(before: str, found: Any) -> Iterator[tuple[str, np.ndarray]]:
    """Arrays of numbers by name, those of structures by their field."""
    fields = found if isinstance(found, dict) else {k: getattr(found, k) for k in found._fieldnames}
    for name, value in fields.items():
        if hasattr(value, "_fieldnames"):
            yield from _arrays(name, value)
        elif isinstance(value, np.ndarray) and value.dtype.kind in "fiu" and value.size > 1:
            yield name, value


HEADERS: dict[str, Callable[[Path], Iterator[Announced]]] = {
    ".parquet": _parquet,
    ".h5": _hdf5,
    ".hdf5": _hdf5,
    ".tdms": _tdms,
    ".mf4": _mdf,
    ".mdf": _mdf,
    ".mat": _mat,
}

if __name__ == "__main__":
    read_into(*sys.argv[1:])
