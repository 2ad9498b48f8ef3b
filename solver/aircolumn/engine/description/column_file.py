"""A CSV file of numbers whose first line names its columns with their units (``distance [mm]``).

Comments and empty lines are passed over (text_table.py, which reads it).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from aircolumn.engine.description.text_file import AsRead, read_bytes, wrong_line
from aircolumn.engine.description.text_table import TextTable, read_table
from aircolumn.engine.description.units import to_si

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
    table = read_table(file, known.due, MOST_LINES, _LONGEST_LINE)
    headings = [_HEADING.match(cell) for cell in table.headings]
    names = [h[1].lower() if h else "" for h in headings]
    if frozenset(names) not in known.sets or len(set(names)) < len(names):
        raise wrong_line(file.path, table.line, "", known.due)
    units = [h[2] if h else "" for h in headings]
    return [(n, _values(table, n, cells, names, units, known)) for n, cells in table.rows]


def _values(
    table: TextTable,
    line: int,
    cells: Sequence[str],
    names: Sequence[str],
    units: Sequence[str],
    known: Columns,
) -> dict[str, float]:
    path = table.file.path
    if len(cells) != len(names):
        raise wrong_line(path, line, "", f"{len(cells)} values; {known.due}")
    values = {}
    for cell, name, unit in zip(cells, names, units, strict=True):
        figure = table.number(cell)
        try:
            values[name] = to_si(f"{cell if figure is None else repr(figure)} {unit}", known.kinds[name])
        except ValueError as error:
            raise wrong_line(path, line, name, str(error)) from None
        least = values[name] <= 0.0 if name in known.above else values[name] < 0.0 and name in known.from_zero
        if least:
            raise wrong_line(path, line, name, f"'{cell}': must be greater than 0")
    return values
