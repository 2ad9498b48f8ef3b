"""Text tables and lines that fit the terminal."""

import shutil
from collections.abc import Iterator, Sequence
from textwrap import fill
from typing import Any

from aircolumn.errors import clean


def grid(headings: Any, lines: Any) -> str:
    """Right-aligned text table; a value that is not known shows as a dash."""
    rows = [headings, *([_shown(c) for c in line] for line in lines)]
    widths = [max(len(r[k]) for r in rows) for k in range(len(headings))]
    text = ["  ".join(c.rjust(w) for c, w in zip(r, widths, strict=True)) for r in rows]
    return "\n".join([text[0], "-" * len(text[0]), *text[1:]])


def room() -> int:
    """Columns of the terminal; 80 where there is none."""
    return shutil.get_terminal_size((80, 24)).columns


def wrapped(text: str, width: int | None = None) -> str:
    """Text whose lines fit the terminal; what a line goes on with stands two places in."""
    width = width or room()
    return "\n".join(
        line
        if len(line) <= width
        else fill(
            line,
            width,
            subsequent_indent="  " + _indent(line),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in clean(text).split("\n")
    )


def _indent(line: str) -> str:
    return line[: len(line) - len(line.lstrip())]


def fitted(
    headings: Sequence[str], lines: Sequence[list[str]], groups: Sequence[int] | None = None, keys: int = 1
) -> str:
    """``grid``, cut into blocks where the terminal is not wide enough: groups of columns (their
    numbers; default: one) that stay together if they can. The first ``keys`` columns head every
    block."""
    whole = grid(headings, lines)
    if len(whole.splitlines()[0]) <= room():
        return whole
    groups = groups or [len(headings) - keys]
    blocks: list[str] = []
    first = keys
    for count in groups:
        blocks += _cut(headings, lines, keys, range(first, first + count))
        first += count
    return "\n\n".join(blocks)


def _cut(headings: Sequence[str], lines: Sequence[list[str]], keys: int, columns: range) -> Iterator[str]:
    """A group of columns as one block or more."""

    def block(chosen: Any) -> Any:
        return grid(*_of([*range(keys), *chosen], headings, lines))

    taken: list[int] = []
    for k in columns:
        if taken and len(block([*taken, k]).splitlines()[0]) > room():
            yield block(taken)
            taken = []
        taken.append(k)
    yield block(taken)


def _of(
    columns: Sequence[int], headings: Sequence[str], lines: Sequence[list[str]]
) -> tuple[list[str], list[list[str]]]:
    return [headings[k] for k in columns], [[line[k] for k in columns] for line in lines]


def _shown(cell: str) -> str:
    return "-" if cell.strip("+* ") == "nan" else cell


def with_blank_line(text: str) -> str:
    """A text with an empty line before it; an empty text as it is."""
    return text and "\n" + text


def listed(names: list[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
