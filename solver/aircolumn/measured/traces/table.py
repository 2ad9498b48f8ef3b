"""A lab's file as columns of numbers: text, MAT, Parquet, HDF5, TDMS or MDF.

Text is read by pandas (a million rows in a second), also from gzip; MAT files of version 5 by scipy; the
other forms by their own libraries (extra ``traces``), each open and documented: Apache Parquet, HDF5
(datasets of one length), TDMS, ASAM MDF. Text without headings is read by position, where the engine file
names its columns (traces.columns).
"""

from __future__ import annotations

import io
import re
import warnings
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.cells import number
from aircolumn.engine.description.text_file import AsRead, read_bytes, wrong, wrong_line
from aircolumn.engine.description.text_table import (
    BLANK,
    LONGEST_LINE,
    SEPARATORS,
    decimal_comma_in,
    encoding_of,
    says,
    separator_of,
    split_cells,
)
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
GZIP, OF_GZIP = ".gz", 16 + zlib.MAX_WBITS
HEADINGS_WITHIN = 60  # lines
SIDE_BY_SIDE = re.compile(r"(.*\S)\s*\(([1-9]\d{0,2}) cycles\)")
EMPTY = ""  # a column behind the last separator of every row
MANY = 10  # columns: without headings, more are taken for cycles
MISSING = "a {kind} file needs more libraries: pip install 'aircolumn[traces]'"


@dataclass(frozen=True)
class TraceTable:
    """Columns by heading, arrays of one length; units by heading where the file states them apart; line of
    the headings (0: the form has no lines); left: columns that are not used, with the reason."""

    path: Path
    columns: dict[str, np.ndarray]
    units: dict[str, str]
    heading_line: int = 0
    left: dict[str, str] = field(default_factory=dict)


def read_trace_table(path: Path, headings: Sequence[str] | None = None) -> TraceTable:
    """The columns of a file that are numbers; headings: of a file that has none, by position. Raises
    InputError."""
    path = Path(path)
    _check_file(path)
    try:
        if path.suffix.lower() in HEADERS:
            columns, units, left = read_apart(path)
            table = TraceTable(path, columns, units, 0, left)
        else:
            table = _read_text(path, headings)
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


def _unpacked(path: Path) -> bytes:
    """The text of a file, also of one that gzip packed, which may hold no more than others."""
    raw = read_bytes(path, LARGEST)
    if path.suffix.lower() != GZIP:
        return raw
    try:
        unpack = zlib.decompressobj(OF_GZIP)
        text = unpack.decompress(raw, LARGEST)
    except zlib.error as error:
        raise wrong(path, f"cannot be unpacked ({error})") from None
    if unpack.unconsumed_tail:
        raise wrong(path, f"holds more than {LARGEST / 1e6:.0f} MB of text; at most that is read")
    return text


def _in_utf8(raw: bytes) -> bytes:
    kind = encoding_of(raw)
    return raw if kind == "utf-8-sig" else raw.decode(kind, errors="replace").encode()


def _read_text(path: Path, named: Sequence[str] | None) -> TraceTable:
    """Some rows at a time, so that what is refused has not filled the memory before."""
    raw = _in_utf8(_unpacked(path))
    _check_lines(path, raw)
    head = AsRead(path, raw[:HEAD]).text
    line, headings, separator, comma = (
        _headings(path, head) if named is None else _by_position(path, head, _each(named))
    )
    pieces: list[list[np.ndarray]] = [[] for _ in headings]
    units: dict[str, str] = {}
    left: dict[str, str] = {}
    kept, row = list(range(len(headings))), line
    sparse: list[int] = []  # columns measured at a lower rate
    for frame in _frames(path, raw, line, len(headings), separator, comma):
        below = frame.dropna(how="all")
        if row == line and len(below) and not _is_number(str(below.iloc[0, 0])):  # a row of units
            units = {h: str(u).strip("[]() ") for h, u in zip(headings, below.iloc[0], strict=True)}
            below = below.iloc[1:]
        columns = {k: _numbers(below[k], comma) for k in kept}
        if row == line:
            sparse = [k for k, v in columns.items() if _sparse(v)]
            kept = [k for k, v in columns.items() if np.isfinite(v).sum() > 0.5 * v.size or k in sparse]
            hardly = [headings[k] for k in columns if k not in kept and headings[k] != EMPTY]
            left = dict.fromkeys(hardly, "hardly any numbers")
        for k in kept:
            if k not in sparse:
                _check_numbers(path, headings[k], columns[k], row)
            pieces[k].append(columns[k])
        row += len(frame)
        if not kept or (row - line) * len(kept) > MOST_CELLS or row - line > MOST_ROWS:
            break
    if (row - line) * len(kept) > MOST_CELLS:
        raise wrong(path, f"more than {MOST_CELLS} numbers: leave columns out")
    found = {headings[k]: _filled(np.concatenate(pieces[k])) for k in kept}
    return TraceTable(path, _one_after_another(found, named or ()), units, line, left)


def _each(named: Sequence[str]) -> list[str]:
    """Headings of columns, those of cycles side by side numbered."""
    found: list[str] = []
    for name in named:
        many = SIDE_BY_SIDE.fullmatch(name)
        found += [name] if many is None else [f"{many[1]} {k}" for k in range(1, int(many[2]) + 1)]
    return found


def _one_after_another(columns: dict[str, np.ndarray], named: Sequence[str]) -> dict[str, np.ndarray]:
    """Cycles side by side as one column; others are repeated for each."""
    groups = {m[1]: int(m[2]) for n in named if (m := SIDE_BY_SIDE.fullmatch(n)) is not None}
    if not groups:
        return columns
    most = max(groups.values())
    kept = {f"{name} {k}" for name, count in groups.items() for k in range(1, count + 1)}
    found = {name: np.tile(values, most) for name, values in columns.items() if name not in kept}
    for name, count in groups.items():
        found[name] = np.concatenate([columns[f"{name} {k}"] for k in range(1, count + 1)])
    return found


def _sparse(values: np.ndarray) -> bool:
    """Whether a column has numbers in every n-th row alone: it was measured at a lower rate."""
    rows = np.flatnonzero(np.isfinite(values))
    apart = np.diff(rows)
    return bool(rows.size >= FEWEST_ROWS and apart.size and apart[0] > 1 and np.all(apart == apart[0]))


def _filled(values: np.ndarray) -> np.ndarray:
    """Between rows that have none, by straight lines."""
    there = np.isfinite(values)
    if there.all():
        return values
    rows = np.arange(values.size)
    return np.interp(rows, rows[there], values[there])


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
                sep=r"\s+" if separator == BLANK else separator,
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


def _first_lines(text: str) -> list[str]:
    return [line for _, line in zip(range(HEADINGS_WITHIN), io.StringIO(text), strict=False)]


def _is_number(cell: str) -> bool:
    return any(number(cell, comma) is not None for comma in (False, True))


def _headings(path: Path, text: str) -> tuple[int, list[str], str, bool]:
    """(line of the headings, they, separator, whether decimals have commas)."""
    lines = _first_lines(text)
    for n, line in enumerate(lines[:-1], 1):
        if not says(line):
            continue
        separator = separator_of(line)
        cells = split_cells(line, separator)
        if len(cells) < 2 or all(map(_is_number, filter(None, cells))):
            continue
        below = [(n + k, split_cells(x, separator)) for k, x in enumerate(lines[n : n + 3], 1) if x.strip()]
        if any(_is_row(row, len(cells)) for _, row in below):
            return n, _named(cells), separator, decimal_comma_in(path, below, separator)
    raise wrong_line(
        path, 1, "", f"no line of headings with rows of numbers below it was found{_proposed(lines)}"
    )


def _split_by(line: str) -> str:
    """The separator of a row; blanks where there is no other."""
    return separator_of(line) if any(sign in line for sign in SEPARATORS) else BLANK


def _proposed(lines: list[str]) -> str:
    """What to write into the engine file for rows of numbers without headings; "" if they are none."""
    rows = [split_cells(line, _split_by(line)) for line in lines[:3] if line.strip()]
    if rows and not any(r[-1].strip() for r in rows):
        rows = [r[:-1] for r in rows]
    if not rows or not all(_is_number(c) for row in rows for c in row) or len({len(r) for r in rows}) > 1:
        return ""
    count = len(rows[0])
    names = ["p cyl [V]"] if count == 1 else ["time [s]", *(f"column {k}" for k in range(2, count + 1))]
    if count >= MANY:
        names = ["crank angle [deg]", f"p cyl [bar] ({count - 1} cycles)"]
    more = ", step: 0.5 deg" if count == 1 else ""
    listed = ", ".join(f'"{n}"' for n in names)
    return (
        f"; it holds {count} column{'s' * (count > 1)} of numbers: name them in the engine file, for example"
        f" traces: {{columns: [{listed}]{more}}}"
    )


def _by_position(path: Path, text: str, named: Sequence[str]) -> tuple[int, list[str], str, bool]:
    """As _headings, of a file that has none."""
    lines = _first_lines(text)
    first = next((k for k, line in enumerate(lines) if says(line)), 0)
    row = lines[first] if lines else ""
    separator = _split_by(row)
    cells = split_cells(row, separator)
    more = [EMPTY] if len(cells) == len(named) + 1 and not cells[-1].strip() else []
    if len(cells) != len(named) + len(more):
        said = f"traces.columns names {len(named)} columns, the first row has {len(cells)}"
        raise wrong_line(path, first + 1, "", said)
    if not all(map(_is_number, filter(None, cells))):
        said = f"the first row is no row of numbers ('{row.strip()[:40]}'): leave traces.columns out"
        raise wrong_line(path, first + 1, "", said)
    return first, [*_named(list(named)), *more], separator, decimal_comma_in(path, [(1, cells)], separator)


def _is_row(cells: Sequence[str], count: int) -> bool:
    return len(cells) >= count and sum(map(_is_number, cells)) >= min(2, count)


def _named(cells: list[str]) -> list[str]:
    """Headings, each once."""
    found: list[str] = []
    for k, cell in enumerate(cells, 1):
        name = cell or f"column {k}"
        found.append(name if name not in found else f"{name} ({k})")
    return found
