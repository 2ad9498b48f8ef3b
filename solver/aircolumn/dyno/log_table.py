"""A data logger's text file as numbered lines of cells, whatever its separators.

Comments (lines that begin with #, //, % or !), blank lines and lines before the headings are passed
over. Cells are separated by semicolon, tab, comma or bar, numbers have decimal points or commas.
"""

import csv
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from aircolumn.description.text_file import AsRead, read_bytes
from aircolumn.errors import InputError, Problem

LARGEST_FILE = 50_000_000  # bytes
SEPARATORS = (";", "\t", ",", "|")
_COMMENT = re.compile(r"\s*(#|//|%|!)")
_COMMA_NUMBER = re.compile(r"[-+]?\d+,\d+")
_POINT_NUMBER = re.compile(r"[-+]?\d*\.\d+")
_THOUSANDS = re.compile(r"[-+]?\d{1,3}(,\d{3})+(\.\d+)?")


@dataclass
class LogTable:
    """Headings, units (a row of their own, or empty) and numbered rows of a file.

    breaks: line numbers of headings that stand again further down: a new pull begins there.
    """

    file: AsRead
    headings: list[str]
    heading_line: int
    units: list[str]
    rows: list[tuple[int, list[str]]]
    decimal_comma: bool
    breaks: list[int] = field(default_factory=list)
    passed_over: int = 0

    @property
    def path(self) -> Path:
        """Of the file."""
        return self.file.path


def wrong(path, line: int, key: str, message: str) -> InputError:
    """An InputError about one line of a data file."""
    return InputError(path, [Problem(line, 1, key, message)])


def read_log_table(path, is_heading, is_unit) -> LogTable:
    """Read a file. is_heading(cells): how many of a line's cells name known channels, 0 if the line
    cannot be the headings; is_unit(cell): whether a cell is a unit. Raises InputError."""
    path = Path(path)
    file = AsRead(path, read_bytes(path, LARGEST_FILE))
    lines = _lines(file)
    kept = [(n, line) for n, line in enumerate(lines, 1) if line.strip(" ;,\t|")]
    kept = [(n, line) for n, line in kept if not _COMMENT.match(line)]
    if not kept:
        raise wrong(path, 1, "", "the file holds no data; a line of headings and rows are expected")
    separator, found = _headings(kept, is_heading)
    if separator is None:
        first = kept[0][1].strip()[:60]
        raise wrong(
            path, kept[0][0], "",
            f"no line of headings with 'rpm' and 'torque' or 'power' is in the file (it begins with"
            f" '{first}'); add one, or name the columns under pull.columns in the engine file",
        )  # fmt: skip
    table = [(n, _cells(line, separator)) for n, line in kept]
    heading_line, headings = table[found]
    while headings and not headings[-1]:
        headings.pop()
    rows, breaks = [], []
    for n, cells in table[found + 1 :]:
        if cells[: len(headings)] == headings:
            breaks.append(n)
        else:
            rows.append((n, cells))
    units, rows = _units(rows, is_unit)
    comma = _decimal_comma(path, rows, separator)
    return LogTable(
        file, headings, heading_line, units, rows, comma, breaks, len(lines) - len(rows) - 1
    )


def number(cell: str, decimal_comma: bool) -> float | None:
    """The number in a cell; None if it holds none."""
    cell = cell.strip().replace(" ", "").replace("\u202f", "")
    if decimal_comma:
        cell = cell.replace(".", "").replace(",", ".") if "," in cell else cell
    elif _THOUSANDS.fullmatch(cell):
        cell = cell.replace(",", "")
    if not re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", cell):
        return None
    return float(cell)


def _lines(file: AsRead) -> list[str]:
    raw = file.raw
    for encoding in ("utf-16",) if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig",):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            text = raw.decode("cp1252", errors="replace")  # the degree sign of older loggers
    if "\0" in text:
        raise wrong(file.path, 1, "", "not a text file: it holds zero bytes")
    return text.splitlines()


def _cells(line: str, separator: str) -> list[str]:
    try:
        return [c.strip() for c in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:  # a cell longer than any number or heading
        return []


def _headings(kept, is_heading):
    """(separator, index of the line of headings): where most channels are recognised."""
    best = (0, None, None)
    for separator in SEPARATORS:
        for k, (_, line) in enumerate(kept[:200]):
            cells = _cells(line, separator)
            if any(number(c, False) is not None for c in cells):
                continue  # a row of readings
            count = is_heading(cells)
            if count > best[0]:
                best = (count, separator, k)
    return best[1], best[2]


def _units(rows, is_unit):
    """(units, remaining rows): a row of units under the headings, if there is one."""
    if rows:
        cells = [c.strip("[]() ") for c in rows[0][1]]
        named = [c for c in cells if c]
        if named and all(number(c, False) is None for c in named) and any(map(is_unit, named)):
            return cells, rows[1:]
    return [], rows


def _decimal_comma(path, rows, separator) -> bool:
    """Whether the file's numbers have decimal commas."""
    counts: Counter[str] = Counter()
    for _, cells in rows:
        for cell in cells:
            if _COMMA_NUMBER.fullmatch(cell) and not (
                separator == "," and _THOUSANDS.fullmatch(cell)
            ):
                counts["comma"] += 1
            elif _POINT_NUMBER.fullmatch(cell):
                counts["point"] += 1
    # A few of the other kind are bad cells, reported as such; half and half is a broken file.
    if min(counts["comma"], counts["point"]) > 0.1 * sum(counts.values()):
        raise wrong(path, rows[0][0], "", "some numbers have decimal commas, some decimal points")
    return counts["comma"] > counts["point"]
