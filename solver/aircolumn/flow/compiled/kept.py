"""Compiled code on disk, with a checksum: what is damaged is made again, and what cannot be kept is
done without. Machine code that was read with a flipped bit would end the process, or worse."""

import hashlib
import os
import stat
import sys
import tempfile
from pathlib import Path
from threading import Lock

_DIGEST = hashlib.sha256
_LENGTH = _DIGEST().digest_size
_once = Lock()
_told: set[str] = set()


def tell_once(text: str) -> None:
    """Say something on the terminal, the first time only."""
    with _once:
        if text in _told:
            return
        _told.add(text)
    print(text, file=sys.stderr, flush=True)


def with_sum(data: bytes) -> bytes:
    """Some bytes and their digest."""
    return data + _DIGEST(data).digest()


def read(path: Path) -> bytes | None:
    """What was kept in a file; None if there is nothing, or if it is damaged, which is told."""
    try:
        if not stat.S_ISREG(os.stat(path).st_mode):  # a pipe would be waited for, a device read whole
            return None
        raw = path.read_bytes()
    except OSError:
        return None
    data = raw[:-_LENGTH]
    if data and _DIGEST(data).digest() == raw[-_LENGTH:]:
        return data
    tell_once(f"{path} is damaged; it is made again")
    return None


def write(path: Path, data: bytes) -> None:
    """Keep some bytes, whole or not at all; without room or permission they are used and not kept."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent)
        try:
            with open(handle, "wb") as file:
                file.write(with_sum(data))
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        tell_once(f"compiled code cannot be kept ({error.strerror}): it is lost at the end")
