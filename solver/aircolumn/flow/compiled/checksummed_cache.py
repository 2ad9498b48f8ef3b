"""Compiled code on disk, with a checksum: what is damaged is made again, and what cannot be kept is
done without. Machine code that was read with a flipped bit would end the process, or worse."""

import hashlib
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any, BinaryIO

from aircolumn.flow.compiled.seam import IndexDataCacheFile

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


class _Summing:
    """A file that is written, and the digest of what was."""

    def __init__(self, file: BinaryIO) -> None:
        self.file, self.digest = file, _DIGEST()

    def write(self, data: bytes) -> int:
        """Write some bytes."""
        self.digest.update(data)
        return self.file.write(data)


def sound(path: str) -> bool:
    """Whether a file ends with the digest of all before it. Raises OSError if it is not there."""
    if not stat.S_ISREG(os.stat(path).st_mode):  # a pipe would be waited for, a device read whole
        return False
    with open(path, "rb") as file:
        raw = file.read()
    return len(raw) > _LENGTH and _DIGEST(raw[:-_LENGTH]).digest() == raw[-_LENGTH:]


class SummedFile(IndexDataCacheFile):
    """Numba's files of one function, each with its digest at the end."""

    def load(self, key: Any) -> Any:
        """The code kept under a key; None, and the terminal is told, if it must be compiled."""
        found = super().load(key)
        if found is None:
            tell_once("compiling the solver (once; it is kept) ...")
        return found

    def save(self, key: Any, data: Any) -> None:
        """Keep code; without room or permission it is used and not kept."""
        try:
            super().save(key, data)
        except OSError as error:
            tell_once(f"compiled code cannot be kept ({error.strerror}): it is lost at the end")

    def _load_index(self) -> Any:
        self._checked(self._index_path)
        try:
            return super()._load_index()
        except OSError:  # a folder in its place, or no permission
            return {}

    def _load_data(self, name: str) -> Any:
        self._checked(self._data_path(name))
        return super()._load_data(name)

    def _checked(self, path: str) -> None:
        """Remove a file that is damaged."""
        try:
            if not sound(path):
                tell_once(f"{path} is damaged; it is made again")
                os.unlink(path)
        except OSError:
            pass  # not there, or not ours: as if it were not there

    @contextmanager
    def _open_for_write(self, filepath: str) -> Iterator[_Summing]:
        with super()._open_for_write(filepath) as file:
            summing = _Summing(file)
            yield summing
            file.write(summing.digest.digest())


def keep_with_sums(dispatcher: Any) -> Any:
    """A compiled function whose code on disk has checksums."""
    dispatcher._cache._cache_file.__class__ = SummedFile
    return dispatcher
