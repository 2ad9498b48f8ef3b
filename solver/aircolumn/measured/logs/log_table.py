"""A data logger's text file as numbered lines of cells, whatever its separators.

Comments (lines that begin with #, //, % or !), blank lines and lines before the headings hold no readings;
what stands before the headings is kept for what it says (preamble.py). Cells are separated by semicolon,
tab, comma or bar, numbers have decimal points or commas.
"""

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from aircolumn.engine.description.text_file import AsRead, read_bytes, table_text
from aircolumn.errors import InputError, Problem
from aircolumn.measured.logs.cells import has_decimal_comma, number

LARGEST_FILE = 10_000_000  # bytes
MOST_LINES, LONGEST_LINE = 200_000, 20_000  # characters
HEADINGS_WITHIN, MOST_COLUMNS = 200, 300  # lines that hold something; cells
MOST_LOOKED_AT = 20_000  # cells, in search of the headings
#: How files begin that are no text.
FOREIGN = {
    b"MATLAB": "a MATLAB file",
    b"PK\x03\x04": "a spreadsheet or an archive",
    b"\xd0\xcf\x11\xe0": "a spreadsheet of an older kind",
    b"%PDF": "a PDF",
}
BLANKS, BLANK = "  ", " "  # columns set apart by two blanks or more, or by one
SEPARATORS = (";", "\t", ",", "|", BLANKS, BLANK)
MOSTLY = 0.9  # of a column's cells
_FIGURE_AND_UNIT = re.compile(r"([-+]?\d[\d.,' ]*?)\s*([^\d\s.,'+-][^\d]*)")
_COMMENT = re.compile(r'(\s*(//|[#%](?!\s*"?[;,\t|])|!))+')  # "#" may be a heading, "%" a unit


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


def wrong_line(path: Path, line: int, key: str, message: str) -> InputError:
    """An InputError about one line of a data file."""
    return InputError(path, [Problem(line, 1, key, message)])


def read_log_table(path: Path, recognised: Callable, is_unit: Callable) -> LogTable:
    """Read a file. recognised(cells, below): how many of a line's cells name known channels, given
    the cells of the line below it, and what is missing for it to be the line of headings ("" if
    nothing is); is_unit(cell): whether a cell is a unit. Raises InputError."""
    path = Path(path)
    file = AsRead(path, read_bytes(path, LARGEST_FILE))
    foreign = next((what for begin, what in FOREIGN.items() if file.raw.startswith(begin)), "")
    if foreign:
        raise wrong_line(path, 1, "", f"{foreign}, which is not read here; save it as CSV")
    lines = _lines(file)
    every = [(n, line) for n, line in enumerate(lines, 1) if line.strip(" ;,\t|")]
    kept = [(n, line) for n, line in every if not _COMMENT.match(line)]
    if not kept:
        raise wrong_line(path, 1, "", "the file holds no data; a line of headings and rows are expected")
    kept, separator, found = _with_headings(path, every, kept, recognised)
    heading_line, headings = kept[found][0], _cells(kept[found][1], separator)
    while headings and not headings[-1]:
        headings.pop()
    rows, breaks = [], []
    for n, line in kept[found + 1 :]:
        cells = _cells(line, separator)
        if cells[: len(headings)] == headings:
            breaks.append(n)
        else:
            rows.append((n, cells))
    units, rows = _units(rows, is_unit)
    units = units or _units_in_cells(rows, len(headings), is_unit)
    comma = has_decimal_comma((cell for _, cells in rows for cell in cells), separator)
    if comma is None:
        raise wrong_line(path, rows[0][0], "", "some numbers have decimal commas, some decimal points")
    above = [(n, _bare(line)) for n, line in enumerate(lines[: heading_line - 1], 1)]
    passed_over = len(lines) - len(rows) - 1
    return LogTable(file, headings, heading_line, units, rows, comma, breaks, passed_over, above)


def _lines(file: AsRead) -> list[str]:
    text = table_text(file.path, file.raw)
    lines = text.splitlines()
    if len(lines) > MOST_LINES:
        raise wrong_line(file.path, 1, "", f"{len(lines)} lines; at most {MOST_LINES} are read")
    for n, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            said = f"a line of {len(line)} characters; at most {LONGEST_LINE} are read"
            raise wrong_line(file.path, n, "", said)
    return lines


def _cells(line: str, separator: str) -> list[str]:
    if separator in (BLANKS, BLANK):
        return re.split(r"\s{2,}" if separator == BLANKS else r"\s+", line.strip())
    if '"' not in line:
        return [c.strip() for c in line.split(separator)]
    try:
        return [c.strip() for c in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:  # a cell longer than any number or heading
        return []


def _bare(line: str) -> str:
    """A line without the signs of a comment before it."""
    sign = _COMMENT.match(line)
    return line[sign.end() if sign else 0 :].strip()


def _are_columns(lines: Sequence[tuple[int, str]], separator: str, width: int) -> bool:
    """Whether headings and rows that only blanks set apart are as many cells wide, and nothing else parts
    them."""
    rows = [_cells(line, separator) for _, line in lines]
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
    for separator in SEPARATORS:
        for k, (_, line) in enumerate(kept[:HEADINGS_WITHIN]):
            cells = _cells(line, separator)
            looked_at += len(cells)
            if looked_at > MOST_LOOKED_AT:
                break
            if len(cells) > MOST_COLUMNS or any(number(c, False) is not None for c in cells):
                continue  # a row of readings
            if separator in (BLANKS, BLANK) and not _are_columns(kept[k : k + 4], separator, len(cells)):
                continue
            below = _cells(kept[k + 1][1], separator) if k + 1 < len(kept) else []
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
