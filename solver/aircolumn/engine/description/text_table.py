"""Tables of figures in text files, however a logger, a lab or a spreadsheet writes them: encodings, comments,
separators, decimal commas, and how much of them is read at all."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

from aircolumn.engine.description.cells import has_decimal_comma, number
from aircolumn.engine.description.text_file import AsRead, wrong, wrong_line

MOST_LINES, LONGEST_LINE = 200_000, 20_000  # characters
HEAD = 10_000  # characters by which UTF-16 is known
SEPARATORS = (";", "\t", ",", "|")
BLANKS, BLANK = "  ", " "  # columns set apart by two blanks or more, or by one
COMMENT = re.compile(r'(\s*(//|[#%](?!\s*"?[;,\t|])|!))+')  # "#" may be a heading, "%" a unit


@dataclass
class TextTable:
    """A table whose first line holds the headings; rows by the numbers of their lines."""

    file: AsRead
    line: int
    headings: list[str]
    rows: list[tuple[int, list[str]]]
    decimal_comma: bool

    def number(self, cell: str) -> float | None:
        """The number in a cell; None if it holds none."""
        return number(cell, self.decimal_comma)


def read_table(file: AsRead, due: str, most: int = MOST_LINES, longest: int = LONGEST_LINE) -> TextTable:
    """A file whose first line that says something holds the headings; due: what is expected. Raises
    InputError."""
    lines = [(n, line) for n, line in numbered_lines(file, most, longest) if says(line)]
    if not lines:
        raise wrong(file.path, f"the file is empty; {due}")
    separator = separator_of(lines[0][1])
    (first, headings), *rows = [(n, split_cells(line, separator)) for n, line in lines]
    return TextTable(file, first, headings, rows, decimal_comma_in(file.path, rows, separator))


def numbered_lines(
    file: AsRead, most: int = MOST_LINES, longest: int = LONGEST_LINE
) -> list[tuple[int, str]]:
    """All lines. Raises InputError if there are too many, or one is too long."""
    lines = table_text(file.path, file.raw).splitlines()
    if len(lines) > most:
        raise wrong(file.path, f"{len(lines)} lines; at most {most} are read")
    for n, line in enumerate(lines, 1):
        if len(line) > longest:
            said = f"a line of {len(line)} characters; at most {longest} are read"
            raise wrong_line(file.path, n, "", said)
    return list(enumerate(lines, 1))


def says(line: str) -> bool:
    """Whether a line is neither empty nor a comment."""
    return bool(line.strip(" ;,\t|")) and not COMMENT.match(line)


def separator_of(headings: str) -> str:
    """What sets the columns of a table apart, by its line of headings."""
    return max((",", *SEPARATORS), key=headings.count)


def split_cells(line: str, separator: str) -> list[str]:
    """The cells of a line."""
    if separator in (BLANKS, BLANK):
        return re.split(r"\s{2,}" if separator == BLANKS else r"\s+", line.strip())
    if '"' not in line:
        return [c.strip() for c in line.split(separator)]
    try:
        return [c.strip() for c in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:  # a cell longer than any number or heading
        return []


def decimal_comma_in(path: Path, rows: list[tuple[int, list[str]]], separator: str) -> bool:
    """Whether the numbers in rows have decimal commas. Raises InputError if some have and some do not."""
    comma = has_decimal_comma((cell for _, cells in rows for cell in cells), separator)
    if comma is None:
        raise wrong_line(path, rows[0][0], "", "some numbers have decimal commas, some decimal points")
    return comma


def encoding_of(raw: bytes) -> str:
    """How a logger or a spreadsheet has written its text: UTF-16 with its mark or, in text that is mostly
    Latin, by every other byte being zero; UTF-8; else cp1252, the letters of older programs."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    even, odd = (raw[k : 2 * HEAD : 2].count(0) for k in (0, 1))
    half = len(raw[: 2 * HEAD]) / 2
    if max(even, odd) > 0.7 * half and min(even, odd) < 0.1 * half:
        return "utf-16-le" if odd > even else "utf-16-be"
    try:
        raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def table_text(path: Path, raw: bytes) -> str:
    """The text of a table of figures, in any encoding of encoding_of. Raises InputError."""
    text = raw.decode(encoding_of(raw), errors="replace")
    if "\0" in text:
        raise wrong(path, "not a text file: it holds zero bytes")
    return text
