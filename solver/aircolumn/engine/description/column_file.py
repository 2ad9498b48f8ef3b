"""A CSV file of numbers whose first line names its columns with their units (``distance [mm]``).

Lines that begin with # and empty lines are passed over. Columns stand apart by commas, or by semicolons or
tabs; then figures may have decimal commas.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from aircolumn.engine.description.text_file import AsRead, read_bytes, separator_of, table_cells, table_text
from aircolumn.engine.description.units import to_si
from aircolumn.errors import InputError, Problem

_HEADING = re.compile(r"\s*([A-Za-z_ ]+?)\s*\[\s*([^\]]+?)\s*\]\s*$")
MOST_LINES = 2000
_LARGEST_FILE = 200_000  # bytes
_LONGEST_LINE = 200


@dataclass(frozen=True)
class Columns:
    """Which columns a file has: sets of which one must stand there, the kind of quantity of each, what is
    due, in words, and in which columns figures must be greater than 0, or may be 0 at least."""

    sets: Sequence[frozenset[str]]
    kinds: Mapping[str, str]
    due: str
    above: frozenset[str] = frozenset()
    from_zero: frozenset[str] = frozenset()


def read_column_file(path: Path) -> AsRead:
    """The file, not looked into. Raises InputError."""
    return AsRead(Path(path), read_bytes(Path(path), _LARGEST_FILE))


def columns_in(file: AsRead, known: Columns) -> list[tuple[int, dict[str, float]]]:
    """(line number, SI value by column) of every line of figures. Raises InputError naming file, line and
    column."""
    path, lines = file.path, _lines(file, known.due)
    if not lines:
        raise wrong_cell(path, 1, "", f"the file is empty; {known.due}")
    headings = [_HEADING.match(cell) for cell in lines[0][1]]
    names = [h[1].lower() if h else "" for h in headings]
    if frozenset(names) not in known.sets or len(set(names)) < len(names):
        raise wrong_cell(path, lines[0][0], "", known.due)
    units = [h[2] if h else "" for h in headings]
    return [(n, _values(path, n, cells, names, units, known)) for n, cells in lines[1:]]


def _values(
    path: Path, number: int, cells: Sequence[str], names: Sequence[str], units: Sequence[str], known: Columns
) -> dict[str, float]:
    if len(cells) != len(names):
        raise wrong_cell(path, number, "", f"{len(cells)} values; {known.due}")
    values = {}
    for cell, name, unit in zip(cells, names, units, strict=True):
        try:
            values[name] = to_si(f"{cell.strip()} {unit}", known.kinds[name])
        except ValueError as error:
            raise wrong_cell(path, number, name, str(error)) from None
        least = values[name] <= 0.0 if name in known.above else values[name] < 0.0 and name in known.from_zero
        if least:
            raise wrong_cell(path, number, name, f"'{cell.strip()}': must be greater than 0")
    return values


def _lines(file: AsRead, due: str) -> list[tuple[int, list[str]]]:
    """(line number, cells) of the lines that hold something."""
    path, rows = file.path, table_text(file.path, file.raw).splitlines()
    if len(rows) > MOST_LINES:
        raise wrong_cell(path, MOST_LINES, "", f"{len(rows)} lines; at most {MOST_LINES}")
    long = next((n for n, row in enumerate(rows, 1) if len(row) > _LONGEST_LINE), None)
    if long is not None:
        raise wrong_cell(path, long, "", f"the line is longer than {_LONGEST_LINE} characters; {due}")
    kept = [(n, row) for n, row in enumerate(rows, 1) if row.strip() and row.lstrip()[0] != "#"]
    apart = separator_of(kept[0][1]) if kept else ","
    return [(n, table_cells(row, apart)) for n, row in kept]


def wrong_cell(path: Path, line: Any, column: Any, message: Any) -> InputError:
    """What is wrong in a line, as an error."""
    return InputError(path, [Problem(line, 1, column, message)])
