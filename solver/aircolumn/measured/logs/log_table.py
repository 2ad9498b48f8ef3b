"""A data logger's text file as numbered lines of cells, whatever its separators.

Comments (lines that begin with #, //, % or !), blank lines and lines before the headings hold no readings;
what stands before the headings is kept for what it says (preamble.py). Lines, cells and decimal commas are
those of text_table.py; cells may also be set apart by blanks.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from aircolumn.engine.description.cells import number
from aircolumn.engine.description.text_file import AsRead, read_bytes, wrong_line
from aircolumn.engine.description.text_table import (
    BLANK,
    BLANKS,
    COMMENT,
    SEPARATORS,
    decimal_comma_in,
    numbered_lines,
    says,
    split_cells,
)
from aircolumn.errors import InputError

LARGEST_FILE = 10_000_000  # bytes
HEADINGS_WITHIN, MOST_COLUMNS = 200, 300  # lines that hold something; cells
MOST_LOOKED_AT = 20_000  # cells, in search of the headings
#: How files begin that are no text.
FOREIGN = {
    b"MATLAB": "a MATLAB file",
    b"PK\x03\x04": "a spreadsheet or an archive",
    b"\xd0\xcf\x11\xe0": "a spreadsheet of an older kind",
    b"%PDF": "a PDF",
}
MOSTLY = 0.9  # of a column's cells
_FIGURE_AND_UNIT = re.compile(r"([-+]?\d[\d.,' ]*?)\s*([^\d\s.,'+-][^\d]*)")


@dataclass
class LogTable:
    """Headings, units (a row of their own, or empty) and numbered rows of a file.

    breaks: line numbers of headings that stand again further down: a new pull begins there. above: numbered
    lines before the headings, without the signs of comments.
    """

    file: AsRead
    headings: list[str]
    heading_line: int
    units: list[str]
    rows: list[tuple[int, list[str]]]
    decimal_comma: bool
    breaks: list[int] = field(default_factory=list)
    passed_over: int = 0
    above: list[tuple[int, str]] = field(default_factory=list)

    @property
    def path(self) -> Path:
        """Path of the data file."""
        return self.file.path


def heading_key(name: str) -> str:
    """A heading by which it is looked up."""
    return " ".join(name.lower().split())


def read_log_table(path: Path, recognised: Callable, is_unit: Callable) -> LogTable:
    """Read a file. recognised(cells, below): how many of a line's cells name known channels, given
    the cells of the line below it, and what is missing for it to be the line of headings ("" if
    nothing is); is_unit(cell): whether a cell is a unit. Raises InputError."""
    path = Path(path)
    file = AsRead(path, read_bytes(path, LARGEST_FILE))
    foreign = next((what for begin, what in FOREIGN.items() if file.raw.startswith(begin)), "")
    if foreign:
        raise wrong_line(path, 1, "", f"{foreign}, which is not read here; save it as CSV")
    lines = numbered_lines(file)
    every = [(n, line) for n, line in lines if line.strip(" ;,\t|")]
    kept = [(n, line) for n, line in every if says(line)]
    if not kept:
        raise wrong_line(path, 1, "", "the file holds no data; a line of headings and rows are expected")
    kept, separator, found = _with_headings(path, every, kept, recognised)
    heading_line, headings = kept[found][0], split_cells(kept[found][1], separator)
    while headings and not headings[-1]:
        headings.pop()
    rows, breaks = [], []
    for n, line in kept[found + 1 :]:
        cells = split_cells(line, separator)
        if cells[: len(headings)] == headings:
            breaks.append(n)
        else:
            rows.append((n, cells))
    units, rows = _units(rows, is_unit)
    units = units or _units_in_cells(rows, len(headings), is_unit)
    comma = decimal_comma_in(path, rows, separator)
    above = [(n, _bare(line)) for n, line in lines[: heading_line - 1]]
    passed_over = len(lines) - len(rows) - 1
    return LogTable(file, headings, heading_line, units, rows, comma, breaks, passed_over, above)


def _bare(line: str) -> str:
    """A line without the signs of a comment before it."""
    sign = COMMENT.match(line)
    return line[sign.end() if sign else 0 :].strip()


def _are_columns(lines: Sequence[tuple[int, str]], separator: str, width: int) -> bool:
    """Whether headings and rows that only blanks set apart are as many cells wide, and nothing else parts
    them."""
    rows = [split_cells(line, separator) for _, line in lines]
    return (
        width > 1
        and not any(sign in line for _, line in lines for sign in ";\t|,")
        and len(rows) > 2
        and all(len(row) == width for row in rows)
        and all(number(cell, False) is not None for cell in rows[-1])
    )


def _units_in_cells(rows: list[tuple[int, list[str]]], width: int, is_unit: Callable) -> list[str]:
    """Units that stand behind the figure in every cell of a column ("2000 rpm"); they are taken out of the
    cells."""
    units = [""] * width
    for k in range(width):
        there = [cells for _, cells in rows if k < len(cells) and cells[k]]
        found = [_FIGURE_AND_UNIT.fullmatch(cells[k]) for cells in there]
        behind = {m[2] for m in found if m}
        if len(behind) != 1 or sum(map(bool, found)) < MOSTLY * len(found) or not is_unit(*behind):
            continue
        units[k] = behind.pop()
        for cells, m in zip(there, found, strict=True):
            cells[k] = m[1] if m else cells[k]
    return units if any(units) else []


def _with_headings(
    path: Path, every: list[tuple[int, str]], kept: list[tuple[int, str]], recognised: Callable
) -> tuple[list[tuple[int, str]], str, int]:
    """(lines, separator, index of the line of headings); a comment may be that line, where no other is."""
    try:
        return kept, *_headings(path, kept, recognised)
    except InputError:
        bare = [(n, _bare(line)) for n, line in every]
        try:
            separator, found = _headings(path, bare, recognised)
        except InputError:
            bare = []
        if not bare or bare[found] in kept:
            raise
    return [bare[found], *(row for row in kept if row[0] > bare[found][0])], separator, 0


def _headings(path: Path, kept: Sequence[tuple[int, str]], recognised: Callable) -> tuple[str, int]:
    """(separator, index of the line of headings): where most channels are recognised. Raises
    InputError with the line that comes nearest."""
    best, nearest, looked_at = (0, "", -1), (0, 0, "", -1), 0
    for separator in (*SEPARATORS, BLANKS, BLANK):
        for k, (_, line) in enumerate(kept[:HEADINGS_WITHIN]):
            cells = split_cells(line, separator)
            looked_at += len(cells)
            if looked_at > MOST_LOOKED_AT:
                break
            if len(cells) > MOST_COLUMNS or any(number(c, False) is not None for c in cells):
                continue  # a row of readings
            if separator in (BLANKS, BLANK) and not _are_columns(kept[k : k + 4], separator, len(cells)):
                continue
            below = split_cells(kept[k + 1][1], separator) if k + 1 < len(kept) else []
            count, missing = recognised(cells, below)
            if count > best[0] and not missing:
                best = (count, separator, k)
            elif (count, len(cells)) > nearest[:2]:
                nearest = (count, len(cells), missing, k)
    if best[0]:
        return best[1:]
    _, width, missing, k = nearest
    n, line = kept[max(k, 0)]
    said = f"no line of headings with engine speed and torque or power: '{line.strip()[:60]}' "
    said += f"is nearest, but {missing}" if width > 1 else "is where the file begins"
    raise wrong_line(path, n, "", f"{said}; add one, or name the columns under pull.columns")


def _units(
    rows: list[tuple[int, list[str]]], is_unit: Callable
) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """(units, remaining rows): a row of units under the headings, if there is one."""
    if rows:
        cells = [c.strip("[]() ") for c in rows[0][1]]
        named = [c for c in cells if c]
        if named and all(number(c, False) is None for c in named) and any(map(is_unit, named)):
            return cells, rows[1:]
    return [], rows
