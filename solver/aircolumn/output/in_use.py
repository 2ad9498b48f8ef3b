"""Two commands that would fill one folder of results at once: the second is told at its start.

A process locks bytes of one file of the user's, a range of them for each folder: its own byte
stands for what it computes, shared with whoever computes the same (two may share a study), and no
other byte of the range may be locked by anybody else. Locks end with the process, however it ends.
"""

import hashlib
import os
from importlib.util import find_spec
from pathlib import Path

from aircolumn.errors import RequestError
from aircolumn.user_folder import base_folder, usable

if find_spec("fcntl"):  # not on Windows: only the folder's origin.json tells there
    import fcntl

KINDS = 1000  # bytes for each folder
_held: list[int] = []  # files, kept open until the process ends


def claim(out: Path, origin: dict) -> None:
    """Claim the folder ``out`` for results of ``origin``. Raises RequestError if another process is
    filling it with other results."""
    place = base_folder() / "aircolumn"
    if not find_spec("fcntl") or not usable(place):
        return
    file = os.open(place / "folders-in-use", os.O_RDWR | os.O_CREAT, 0o600)
    _held.append(file)
    start = KINDS * (_number(str(Path(out).resolve())) % 2**40)
    of = " ".join((origin["command"].split()[1], origin["file"], origin["from"]))
    own = _number(of) % KINDS
    _lock(file, fcntl.LOCK_SH, start + own, 1)
    try:
        for first, count in ((start, own), (start + own + 1, KINDS - own - 1)):
            if count:
                _lock(file, fcntl.LOCK_EX | fcntl.LOCK_NB, first, count)
                _lock(file, fcntl.LOCK_UN, first, count)
    except OSError:
        raise RequestError(
            f"another command is writing to --out {out}; wait for it, or choose another folder"
        ) from None


def _number(text: str) -> int:
    return int.from_bytes(hashlib.sha256(text.encode(errors="surrogateescape")).digest()[:8], "big")


def _lock(file: int, how: int, first: int, count: int) -> None:
    fcntl.lockf(file, how, count, first)
