"""Text files of the user, read only if they are files of a bounded size."""

import csv
import re
import stat
from dataclasses import dataclass
from pathlib import Path

from aircolumn.errors import InputError, Problem

_COMMA = re.compile(r"^([-+]?\d*),(\d+)$")  # of a figure and nothing else
HEAD = 10_000  # characters by which UTF-16 is known


@dataclass(frozen=True)
class AsRead:
    """A file and its bytes when it was read, for all that is said of it later."""

    path: Path
    raw: bytes

    @property
    def text(self) -> str:
        """The text of the file, undecodable bytes replaced."""
        return self.raw.decode("utf-8-sig", errors="replace")


def read_bytes(path: Path, most: int) -> bytes:
    """The bytes of an ordinary file of at most ``most``. Raises InputError.

    Devices, pipes and folders are refused before anything is read, and no more is read than was
    asked for, should the file grow.
    """
    try:
        about = path.stat()
        if stat.S_ISREG(about.st_mode) and about.st_size <= most:
            with open(path, "rb") as file:
                raw = file.read(most + 1)
        else:
            raw = b""
    except OSError as error:
        raise wrong(path, f"cannot be read: {error.strerror}") from None
    except ValueError:  # a zero byte, or what is no text
        raise wrong(path, "cannot be read: no file can have this name") from None
    if stat.S_ISDIR(about.st_mode):
        raise wrong(path, "this is a folder; a file is expected")
    if not stat.S_ISREG(about.st_mode):
        raise wrong(path, "this is not an ordinary file")
    if about.st_size > most:
        raise wrong(path, f"{about.st_size} bytes; at most {most} bytes are read")
    if len(raw) > most:
        raise wrong(path, f"at most {most} bytes are read")
    return raw


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


def separator_of(headings: str) -> str:
    """What sets the columns of a table apart, by its line of headings."""
    return max(",;\t", key=headings.count)


def table_cells(line: str, separator: str) -> list[str]:
    """The cells of a line; where no comma sets them apart, it is a decimal comma."""
    cells = [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]
    return cells if separator == "," else [_COMMA.sub(r"\1.\2", cell) for cell in cells]


def text_of(path: Path, raw: bytes) -> str:
    """The text of a file in UTF-8 from its bytes. Raises InputError."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise wrong(path, "not a text file (UTF-8)") from None
    if "\0" in text:
        raise wrong(path, "not a text file: it holds zero bytes")
    return text


def wrong(path: Path, message: str, line: int = 1, column: int = 1, key: str = "") -> InputError:
    """An error at a place of a file."""
    return InputError(path, [Problem(line, column, key, message)])
