"""Text files of the user, read only if they are files of a bounded size."""

import stat
from dataclasses import dataclass
from pathlib import Path

from aircolumn.errors import InputError, Problem


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


def wrong_line(path: Path, line: int, key: str, message: str) -> InputError:
    """An error in a line of a table; key: the column."""
    return wrong(path, message, line, key=key)
