"""A lab's file as columns of numbers: CSV, Parquet, HDF5, TDMS or MDF.

Text is read by pandas (a million rows in a second); the other forms by their own libraries (extra
``traces``), each open and documented: Apache Parquet, HDF5 (datasets of one length), TDMS, ASAM MDF.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.text_file import AsRead, read_bytes, wrong
from aircolumn.measured.logs.log_table import LONGEST_LINE, wrong_line
from aircolumn.measured.traces.lab_formats import (
    HEADERS,
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    Refused,
    read_apart,
)

if TYPE_CHECKING:
    import pandas as pd

LARGEST = 300_000_000  # bytes
FEWEST_ROWS = 50
HEAD = 1_000_000  # bytes in which headings are looked for
A_TIME = 2_000_000  # cells of text that are turned into numbers at a time
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
    _check_file(path)
    try:
        table = (
            _read_text(path) if path.suffix.lower() not in HEADERS else TraceTable(path, *read_apart(path))
        )
    except ImportError:
        raise wrong(path, MISSING.format(kind=path.suffix[1:].upper())) from None
    except Refused as error:
        raise wrong(path, str(error)) from None
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
    """Some rows at a time, so that what is refused has not filled the memory before."""
    raw = read_bytes(path, LARGEST)
    _check_lines(path, raw)
    line, headings, separator, comma = _headings(path, AsRead(path, raw[:HEAD]).text)
    pieces: list[list[np.ndarray]] = [[] for _ in headings]
    units: dict[str, str] = {}
    kept, row = list(range(len(headings))), line
    for frame in _frames(path, raw, line, len(headings), separator, comma):
        below = frame.dropna(how="all")
        if row == line and len(below) and not _NUMBER.match(str(below.iloc[0, 0])):  # a row of units
            units = {h: str(u).strip("[]() ") for h, u in zip(headings, below.iloc[0], strict=True)}
            below = below.iloc[1:]
        columns = {k: _numbers(below[k], comma) for k in kept}
        if row == line:
            kept = [k for k, v in columns.items() if v.size and np.mean(np.isfinite(v)) > 0.5]
        for k in kept:
            _check_numbers(path, headings[k], columns[k], row)
            pieces[k].append(columns[k])
        row += len(frame)
        if not kept or (row - line) * len(kept) > MOST_CELLS or row - line > MOST_ROWS:
            break
    if (row - line) * len(kept) > MOST_CELLS:
        raise wrong(path, f"more than {MOST_CELLS} numbers: leave columns out")
    return TraceTable(path, {headings[k]: np.concatenate(pieces[k]) for k in kept}, units, line)


def _check_lines(path: Path, raw: bytes) -> None:
    """No line longer than is read. Raises InputError."""
    start = 0
    while (end := raw.find(b"\n", start)) >= 0 or start < len(raw):
        end = len(raw) if end < 0 else end
        if end - start > LONGEST_LINE:
            number = raw.count(b"\n", 0, start) + 1
            raise wrong_line(
                path, number, "", f"a line of {end - start} bytes; at most {LONGEST_LINE} are read"
            )
        # lines are short: look on where the first too long one would have to end
        start = raw.rfind(b"\n", start, start + LONGEST_LINE + 1) + 1 or end + 1


def _frames(
    path: Path, raw: bytes, line: int, count: int, separator: str, comma: bool
) -> Iterator[pd.DataFrame]:
    """The rows below the headings. Raises InputError for rows that are longer than these."""
    import pandas as pd

    said = f"some rows below have more cells than there are headings ({count})"
    with warnings.catch_warnings():
        warnings.simplefilter("error", pd.errors.ParserWarning)
        try:
            yield from pd.read_csv(
                io.BytesIO(raw),
                sep=separator,
                decimal="," if comma else ".",
                skiprows=line,
                header=None,
                names=range(count),
                index_col=False,
                comment="#",
                skipinitialspace=True,
                encoding="utf-8-sig",
                encoding_errors="replace",
                chunksize=max(A_TIME // count, FEWEST_ROWS),
            )
        except (pd.errors.ParserWarning, pd.errors.ParserError):
            raise wrong_line(path, line, "", said) from None
        except pd.errors.EmptyDataError:
            return


def _numbers(values: pd.Series, comma: bool) -> np.ndarray:
    """As numbers; what is none is NaN."""
    import pandas as pd

    if values.dtype.kind not in "fiu":
        text = values.astype(str)
        values = text.str.replace(",", ".", regex=False) if comma else text
    return pd.to_numeric(values, errors="coerce").to_numpy(dtype=float, na_value=np.nan)


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
