"""A lab's file as columns of numbers: CSV, Parquet, HDF5, TDMS or MDF.

Text is read by pandas (a million rows in a second); the other forms by their own libraries (extra
``traces``), each open and documented: Apache Parquet, HDF5 (datasets of one length), TDMS, ASAM MDF.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.engine.description.text_file import AsRead, read_bytes, wrong
from aircolumn.errors import InputError
from aircolumn.measured.log_table import wrong_line

if TYPE_CHECKING:
    import pandas as pd

LARGEST = 300_000_000  # bytes
MOST_ROWS, FEWEST_ROWS, MOST_COLUMNS = 5_000_000, 50, 300
SEPARATORS = (";", "\t", ",", "|")
HEADINGS_WITHIN = 60  # lines
MISSING = "a {kind} file needs more libraries: pip install 'aircolumn[traces]'"
_COMMENT = re.compile(r"\s*(#|//|%|!)")
_COMMA_NUMBER = re.compile(r"(?:^|[;\t|])\s*[-+]?\d+,\d+")
_NUMBER = re.compile(r"\s*[-+]?(\d+[.,]?\d*|[.,]\d+)([eE][-+]?\d+)?\s*$")


@dataclass(frozen=True)
class TraceTable:
    """Columns by heading, arrays of one length; units by heading where the file states them apart; line of
    the headings (0: the form has no lines)."""

    path: Path
    columns: dict[str, np.ndarray]
    units: dict[str, str]
    heading_line: int = 0


def read_trace_table(path: Path) -> TraceTable:
    """The columns of a file that are numbers. Raises InputError."""
    path = Path(path)
    read = READERS.get(path.suffix.lower(), _read_text)
    _check_file(path)
    try:
        table = read(path)
    except InputError:
        raise
    except ImportError:
        raise wrong(path, MISSING.format(kind=path.suffix[1:].upper())) from None
    except Exception as error:  # whatever a library meets in a damaged file
        raise wrong(path, f"cannot be read ({type(error).__name__})") from None
    lengths = {len(v) for v in table.columns.values()}
    if len(lengths) != 1:
        said = "no columns of numbers" if not lengths else "columns of different lengths"
        raise wrong(path, f"it holds {said}; one angle or time and pressures of the same length are expected")
    rows = lengths.pop()
    if not FEWEST_ROWS <= rows <= MOST_ROWS:
        raise wrong(path, f"{rows} rows; from {FEWEST_ROWS} to {MOST_ROWS} are read")
    if len(table.columns) > MOST_COLUMNS:
        raise wrong(path, f"{len(table.columns)} columns; at most {MOST_COLUMNS}")
    return table


def _check_file(path: Path) -> None:
    """An ordinary file that is not too large. Raises InputError."""
    try:
        size = path.stat().st_size
    except (OSError, ValueError) as error:
        raise wrong(path, f"cannot be read: {getattr(error, 'strerror', error)}") from None
    if not path.is_file():
        raise wrong(path, "this is not an ordinary file")
    if size > LARGEST:
        raise wrong(path, f"{size / 1e6:.0f} MB; at most {LARGEST / 1e6:.0f} MB are read")


def _read_text(path: Path) -> TraceTable:
    import pandas as pd

    text = AsRead(path, read_bytes(path, LARGEST)).text
    line, headings, separator, comma = _headings(path, text)
    found = _frame(path, text, line, len(headings), separator, comma)
    found = found.dropna(how="all")
    units = {}
    if len(found) and not _NUMBER.match(str(found.iloc[0, 0])):  # a row of units
        units = {h: str(u).strip("[]() ") for h, u in zip(headings, found.iloc[0], strict=True)}
        found = found.iloc[1:]
    columns = {}
    for k, heading in enumerate(headings):
        values = pd.to_numeric(_pointed(found[k], comma), errors="coerce")
        array = values.to_numpy(dtype=float, na_value=np.nan)
        share = float(np.mean(np.isfinite(array))) if array.size else 0.0
        if share > 0.5:
            _check_numbers(path, heading, array, line)
            columns[heading] = array
    return TraceTable(path, columns, units, line)


def _frame(path: Path, text: str, line: int, count: int, separator: str, comma: bool) -> pd.DataFrame:
    """The rows below the headings. Raises InputError for rows that are longer than these."""
    import pandas as pd

    with warnings.catch_warnings():
        warnings.simplefilter("error", pd.errors.ParserWarning)
        try:
            return pd.read_csv(
                io.StringIO(text),
                sep=separator,
                decimal="," if comma else ".",
                skiprows=line,
                header=None,
                names=range(count),
                index_col=False,
                comment="#",
                low_memory=False,
                skipinitialspace=True,
            )
        except (pd.errors.ParserWarning, pd.errors.ParserError):
            said = f"some rows below have more cells than there are headings ({count})"
            raise wrong_line(path, line, "", said) from None


def _pointed(values: pd.Series, comma: bool) -> pd.Series:
    """Text with decimal points; numbers stay."""
    if values.dtype.kind in "fiu":
        return values
    return values.astype(str).str.replace(",", ".", regex=False) if comma else values.astype(str)


def _check_numbers(path: Path, heading: str, values: np.ndarray, line: int) -> None:
    bad = np.flatnonzero(~np.isfinite(values))
    if bad.size:
        raise wrong_line(path, line + 1 + int(bad[0]), heading, "no number stands here (first of"
                         f" {bad.size} in this column); take the row out, or fill it")  # fmt: skip


def _headings(path: Path, text: str) -> tuple[int, list[str], str, bool]:
    """(line of the headings, they, separator, whether decimals have commas)."""
    lines = [line for _, line in zip(range(HEADINGS_WITHIN), io.StringIO(text), strict=False)]
    for number, line in enumerate(lines[:-1], 1):
        if not line.strip() or _COMMENT.match(line):
            continue
        separator = max(SEPARATORS, key=line.count)
        cells = [c.strip().strip('"') for c in line.rstrip("\r\n").split(separator)]
        if len(cells) < 2 or all(_NUMBER.match(c) for c in cells if c):
            continue
        below = [x for x in lines[number : number + 3] if x.strip()]
        if any(_is_row(x, separator, len(cells)) for x in below):
            comma = separator != "," and any(_COMMA_NUMBER.search(x) for x in below)
            return number, _named(cells), separator, comma
    raise wrong_line(path, 1, "", "no line of headings with rows of numbers below it was found")


def _is_row(line: str, separator: str, count: int) -> bool:
    cells = line.rstrip("\r\n").split(separator)
    return len(cells) >= count and sum(bool(_NUMBER.match(c)) for c in cells) >= min(2, count)


def _named(cells: list[str]) -> list[str]:
    """Headings, each once."""
    found: list[str] = []
    for k, cell in enumerate(cells, 1):
        name = cell or f"column {k}"
        found.append(name if name not in found else f"{name} ({k})")
    return found


def _numbers(path: Path, pairs: dict[str, Any], units: dict[str, str]) -> TraceTable:
    """One-dimensional columns of numbers."""
    columns = {}
    for name, values in pairs.items():
        array = np.asarray(values)
        if array.ndim == 1 and array.size and np.issubdtype(array.dtype, np.number):
            columns[str(name)] = array.astype(float)
    longest = max((len(v) for v in columns.values()), default=0)
    columns = {n: v for n, v in columns.items() if len(v) == longest}
    for name, values in columns.items():
        if not np.all(np.isfinite(values)):
            raise wrong(path, f"'{name[:40]}' has values that are no numbers")
    return TraceTable(path, columns, {n: u for n, u in units.items() if u})


def _read_parquet(path: Path) -> TraceTable:
    import pyarrow.parquet as parquet

    table = parquet.read_table(path)
    return _numbers(path, {n: table[n].to_numpy() for n in table.column_names}, {})


def _read_hdf5(path: Path) -> TraceTable:
    import h5py

    found: dict[str, Any] = {}
    units: dict[str, str] = {}

    def look(name: str, item: Any) -> None:
        if isinstance(item, h5py.Dataset) and item.ndim == 1 and item.size <= MOST_ROWS:
            found[name] = item[()]
            stated = item.attrs.get("units", item.attrs.get("unit", ""))
            units[name] = stated.decode() if isinstance(stated, bytes) else str(stated)

    with h5py.File(path, "r") as file:
        file.visititems(look)
    return _numbers(path, found, units)


def _read_tdms(path: Path) -> TraceTable:
    from nptdms import TdmsFile

    file = TdmsFile.read(path)
    channels = [c for group in file.groups() for c in group.channels()]
    units = {c.name: str(c.properties.get("unit_string", "")) for c in channels}
    return _numbers(path, {c.name: c[:] for c in channels}, units)


def _read_mdf(path: Path) -> TraceTable:
    from asammdf import MDF

    found: dict[str, Any] = {}
    units: dict[str, str] = {}
    with warnings.catch_warnings(), MDF(path) as file:
        warnings.simplefilter("ignore")  # of the library's own use of pandas
        for group in file.iter_groups():
            if len(group) > len(next(iter(found.values()), ())):
                found = {"time": group.index.to_numpy(), **{n: group[n].to_numpy() for n in group.columns}}
                units = {"time": "s"}
        for name in [n for n in found if n != "time"]:
            units[name] = str(file.get_channel_unit(name))
    return _numbers(path, found, units)


READERS: dict[str, Callable[[Path], TraceTable]] = {
    ".parquet": _read_parquet,
    ".h5": _read_hdf5,
    ".hdf5": _read_hdf5,
    ".tdms": _read_tdms,
    ".mf4": _read_mdf,
    ".mdf": _read_mdf,
}
