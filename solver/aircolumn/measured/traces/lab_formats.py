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
FEWEST = 50  # numbers of a column at another rate
SECONDS, CELLS_A_SECOND = 3, 3e6  # of CPU
SAID, FOUND = "said.json", "found.json"


class Announced(NamedTuple):
    """A column that a header announces: heading, unit, how many numbers, how to read them, and the seconds
    that they cover, if it says so."""

    name: str
    unit: str
    rows: int
    read: Callable[[], Any]
    seconds: float | None = None


class Refused(ValueError):
    """What is wrong with a file, in words."""


def read_apart(path: Path) -> tuple[dict[str, np.ndarray], dict[str, str], dict[str, str]]:
    """(columns, units, columns that are not used and why) of a file, read in a process of its own. Raises
    Refused; ImportError without the library that reads such files."""
    with tempfile.TemporaryDirectory(prefix="aircolumn-") as place:
        run = [sys.executable, "-m", __name__, place, str(path.absolute())]
        done = subprocess.run(run, capture_output=True, check=False)
        folder = Path(place)
        said: dict[str, str] = {}
        with suppress(OSError, ValueError):
            said = json.loads((folder / SAID).read_text(encoding="utf-8"))
        if said:
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
    longest = max(announced, key=lambda c: c.rows, default=Announced("", "", 0, list))
    chosen = [c for c in announced if c.rows == longest.rows or _at_another_rate(c, longest)]
    if longest.rows > MOST_ROWS:
        raise Refused(f"{longest.rows} rows; at most {MOST_ROWS} are read")
    if len(chosen) > MOST_COLUMNS:
        raise Refused(f"{len(chosen)} columns; at most {MOST_COLUMNS}")
    cells = longest.rows * len(chosen)
    if cells > MOST_CELLS:
        raise Refused(f"{cells} numbers; at most {MOST_CELLS} are read: leave columns out")
    _limit(cells)
    headings = []
    for k, column in enumerate(chosen):
        values = np.asarray(column.read(), dtype=float)
        if values.shape != (column.rows,):
            raise Refused(f"'{column.name[:40]}' holds {values.size} numbers, {column.rows} are announced")
        if not np.isfinite(values).all():
            raise Refused(f"'{column.name[:40]}' has values that are no numbers")
        if column.rows != longest.rows:  # both begin together
            own, due = (np.arange(c.rows) * (c.seconds or 0.0) / c.rows for c in (column, longest))
            values = np.interp(due, own, values)
        np.save(folder / f"{k}.npy", values)
        headings.append((column.name, column.unit))
    left = {
        c.name: f"{c.rows} numbers where others have {longest.rows}" for c in announced if c not in chosen
    }
    (folder / FOUND).write_text(json.dumps({"columns": headings, "left": left}), encoding="utf-8")


def _at_another_rate(column: Announced, longest: Announced) -> bool:
    """Whether a shorter column covers the same time at a lower rate, which its header says."""
    if column.seconds is None or longest.seconds is None or column.rows < FEWEST:
        return False
    return abs(column.seconds - longest.seconds) <= 1.5 * column.seconds / column.rows


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
            unit, step = (channel.properties.get(key) for key in ("unit_string", "wf_increment"))
            seconds = len(channel) * float(step) if step else None
            read = partial(channel.__getitem__, slice(None))
            yield Announced(channel.name, str(unit or ""), len(channel), read, seconds)


def _mdf(path: Path) -> Iterator[Announced]:
    from asammdf import MDF

    _limit(0)
    file = MDF(path)
    sizes = [int(group.channel_group.cycles_nr) for group in file.groups]
    if not sizes:
        return
    number = int(np.argmax(sizes))
    if sizes[number] > MOST_ROWS or sum(len(g.channels) for g in file.groups) > MOST_COLUMNS:
        yield Announced("time", "s", sizes[number], list)
        return
    time = None
    for place in sorted(range(len(sizes)), key=lambda g: -sizes[g]):
        channels: Any = file.groups[place].channels
        for index, channel in enumerate(channels):
            signal = file.get(group=place, index=index)
            if time is None:
                time = np.asarray(signal.timestamps)
                yield Announced("time", "s", time.size, partial(np.asarray, time))
            if channel.name.lower() in ("time", "t") or np.asarray(signal.samples).dtype.kind not in "fiu":
                continue
            formula = str(getattr(channel.conversion, "formula", "") or "").strip()
            if formula and formula.upper() not in ("X", "X1"):
                _check_converted(file.get(group=place, index=index, raw=True), signal, formula)
            yield _in_time(time, signal, channel.name)


def _in_time(time: np.ndarray, signal: Any, name: str) -> Announced:
    """A channel at the times of the fastest, where it has others of its own and covers them."""
    own, samples = np.asarray(signal.timestamps), np.asarray(signal.samples)
    last = (own[-1] - own[0]) / max(own.size - 1, 1) if own.size else 0.0
    if own.size == time.size or own.size < FEWEST or own[0] > time[0] + last or own[-1] < time[-1] - last:
        return Announced(name, str(signal.unit), samples.size, partial(np.asarray, samples))
    return Announced(name, str(signal.unit), time.size, partial(np.interp, time, own, samples))


def _check_converted(stored: Any, signal: Any, formula: str) -> None:
    """Refuse a channel whose formula could not be evaluated: the library then gives what was stored."""
    if np.array_equal(stored.samples, signal.samples):
        raise Refused(f"'{signal.name[:40]}': its conversion '{formula[:40]}' cannot be evaluated")


def _mat(path: Path) -> Iterator[Announced]:
    """Arrays of a MAT file, also those of its structures: one of angles by cycles goes on from cycle to
    cycle, and one of angles alone is repeated for each."""
    from scipy.io import loadmat

    _limit(0)
    try:
        data = loadmat(path, squeeze_me=True, struct_as_record=False)
    except NotImplementedError:
        raise Refused("a MAT file of version 7.3, which is HDF5: name it .h5") from None
    arrays = dict(_arrays({k: v for k, v in data.items() if not k.startswith("__")}))
    cycles = max((a.shape for a in arrays.values() if a.ndim == 2), key=np.prod, default=(0, 1))
    for name, a in arrays.items():
        if a.ndim == 2:
            yield Announced(name, "", a.size, partial(a.ravel, "F"))
        elif a.ndim == 1:
            times = cycles[1] if a.size == cycles[0] else 1
            yield Announced(name, "", a.size * times, partial(np.tile, a, times))


def _arrays(found: Any) -> Iterator[tuple[str, np.ndarray]]:
    """Arrays of numbers by name, those of structures by their field."""
    fields = found if isinstance(found, dict) else {k: getattr(found, k) for k in found._fieldnames}
    for name, value in fields.items():
        if hasattr(value, "_fieldnames"):
            yield from _arrays(value)
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
