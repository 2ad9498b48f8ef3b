"""Finished points on disk (SQLite): each is there before it is announced.

A point is found by a digest of all it depends on (engine, speed, solver, mesh), so a changed engine
file or solver can never be mixed with old results: old points stay in the file and are not used.
Write-ahead logging keeps every committed point through the killing of the process; what was being
written is rolled back on the next start. (A power cut may cost the last points, never the file.)

Every row carries a checksum of its key and contents, and all are checked when the file is opened: a
damaged one is removed, and its point is computed again. A file that is damaged otherwise is set
aside, and a new one is begun with every row of it that can still be read. A file of another kind is
left alone.
"""

import hashlib
import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from itertools import count
from pathlib import Path
from typing import Any

import numpy as np

from aircolumn.errors import ComputationError, RequestError
from aircolumn.study.tasks import Outcome

STORE = "points.sqlite"  # in a folder of results
_TABLE = "CREATE TABLE IF NOT EXISTS points (key TEXT PRIMARY KEY, figures BLOB, reason TEXT, checksum BLOB)"
_COLUMNS = ("key", "figures", "reason", "checksum")
_BEGIN = b"SQLite format 3\0"
_INSERT = "INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?)"
_ROWS = "SELECT key, figures, reason, checksum FROM points ORDER BY rowid"
_DAMAGE = (sqlite3.Error, ValueError, OverflowError, MemoryError)  # what SQLite ends in
_SUFFIXES = ("", "-wal", "-shm")
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_READONLY}
#: What the machine is to blame for, not the file.
_ELSEWHERE = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_PERM,
}


class Store:
    """The points of one study folder. asked: keys that were asked for; written: points put there;
    damaged: places that could not be used; aside: where a damaged file was put, or None."""

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self.asked: set[str] = set()
        self.damaged = self.written = 0
        self.aside: Path | None = None
        if _is_of_another_kind(self.path):
            raise RequestError(f"{self.path} is not a store of points; move it away")
        try:
            self.base = self._opened()
        except _DAMAGE as error:
            if self._is_elsewhere(error):
                raise RequestError(f"{self.path} cannot be opened: {error}") from None
            self.base = self._begun_anew()

    def _opened(self) -> Any:
        """The file, checked from end to end, and written to once."""
        base = sqlite3.connect(self.path, timeout=60.0)
        try:
            base.text_factory = lambda raw: raw.decode(errors="replace")
            base.execute("PRAGMA journal_mode=WAL")
            base.execute("PRAGMA synchronous=NORMAL")
            base.execute(_TABLE)
            if base.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
                raise sqlite3.DatabaseError("damaged")
            with base:
                wrong = [(row[0],) for row in base.execute(_ROWS) if not _sound(*row)]
                base.executemany("DELETE FROM points WHERE key IS ?", wrong)
                base.execute(_INSERT, ("", None, "", b""))
                base.execute("DELETE FROM points WHERE key = ''")
            self.damaged += len(wrong)
        except BaseException:
            base.close()
            raise
        return base

    def _is_elsewhere(self, error: Any) -> bool:
        """Whether the machine, not the file, is at fault."""
        code = _code(error)
        if code == sqlite3.SQLITE_READONLY:  # so says a damaged header too
            return not (os.access(self.path, os.W_OK) and os.access(self.path.parent, os.W_OK))
        return code in _ELSEWHERE and not (code == sqlite3.SQLITE_CANTOPEN and self.path.is_file())

    def _begun_anew(self) -> Any:
        """A new file with every row of the damaged one that can still be read. Raises
        RequestError if that cannot be moved."""
        rows = {row[0]: row for row in _readable(self.path)}
        self.aside = _free_name(self.path)
        try:
            for suffix in _SUFFIXES:
                old = Path(f"{self.path}{suffix}")
                if old.exists():
                    old.replace(f"{self.aside}{suffix}")
            base = self._opened()
            with base:
                base.executemany(_INSERT, rows.values())
        except (OSError, sqlite3.Error) as error:
            raise RequestError(f"{self.path} is damaged and cannot be moved: {error}") from None
        self.damaged += 1
        return base

    def close(self) -> None:
        """Close the file."""
        self.base.close()

    def put(self, keys: Sequence[str], outcomes: Sequence[Outcome]) -> None:
        """Write the points of a task, all or none. Raises ComputationError if there is no room."""
        rows = []
        for key, o in zip(keys, outcomes, strict=True):
            figures = None if o.figures is None else o.figures.astype("<f8").tobytes()
            rows.append((key, figures, o.reason, _checksum(key, figures, o.reason)))
        try:
            self._write(rows)
        except sqlite3.Error as error:
            if _code(error) in _DAMAGED and not self._is_elsewhere(error):  # found only now
                self.base.close()
                self.base = self._begun_anew()
                self._write(rows)
                return
            raise ComputationError(
                f"points can no longer be kept in {self.path} ({error}); those before are there:"
                " make room, then run the same command to go on"
            ) from None

    def _write(self, rows: Sequence[tuple[str, bytes | None, str, bytes]]) -> None:
        with self.base:
            self.base.executemany(_INSERT, rows)
        self.written += len(rows)

    def get(self, keys: Sequence[str]) -> dict[str, Outcome]:
        """The outcomes there are of ``keys``; those of damaged rows are not there."""
        self.asked.update(keys)
        found = {}
        for key in keys:
            try:
                row = self.base.execute(
                    "SELECT figures, reason, checksum FROM points WHERE key = ?", (key,)
                ).fetchone()
            except sqlite3.DatabaseError:
                self.damaged += 1
                continue
            if row is None:
                continue
            if _sound(key, *row):
                figures = None if row[0] is None else np.frombuffer(row[0], "<f8")
                found[key] = Outcome(figures, row[1])
            else:
                self.damaged += 1
        return found

    def count(self) -> int:
        """How many points the file holds."""
        try:
            return self.base.execute("SELECT count(*) FROM points").fetchone()[0]
        except sqlite3.DatabaseError:
            return 0

    def others(self) -> int:
        """How many points the file holds that nobody has asked for: those of another engine file,
        plan or solver version."""
        return max(self.count() - len(self.asked), 0)


def store_in(folder: str | Path) -> Store:
    """The store of a folder, which is made if need be. Raises RequestError if it cannot be."""
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RequestError(f"--out {folder} cannot be a folder: {error.strerror}") from None
    return Store(folder / STORE)


def _code(error: Any) -> int:
    """SQLite's primary result code of an error; 0 if it has none."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _checksum(key: str, figures: bytes | None, reason: str) -> bytes:
    digest = hashlib.sha256()
    for part in (key.encode(), b"" if figures is None else figures, reason.encode()):
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part)
    return digest.digest()


def _sound(key: str, figures: bytes | None, reason: str, checksum: bytes) -> bool:
    """Whether a row is what was written: kinds, length and checksum."""
    if not (isinstance(key, str) and isinstance(reason, str)):
        return False
    if not (figures is None or isinstance(figures, bytes)):
        return False
    return checksum == _checksum(key, figures, reason)


def _is_of_another_kind(path: Path) -> bool:
    """Whether a file is neither a store nor a damaged one: it does not begin as databases do, give
    or take a few letters, or is a sound database without our columns."""
    try:
        with open(path, "rb") as file:
            begin = file.read(len(_BEGIN))
        if begin != _BEGIN:
            return sum(a == b for a, b in zip(begin, _BEGIN, strict=False)) < min(len(begin), 12)
        with closing(sqlite3.connect(path)) as base:
            tables = [row[0] for row in base.execute("SELECT sql FROM sqlite_master") if row[0]]
            sound = base.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",)
    except (OSError, *_DAMAGE):
        return False
    like_ours = any(sum(name in sql for name in _COLUMNS) > 2 for sql in tables)
    return bool(tables) and sound and not like_ours


def _readable(path: Path) -> Iterator[Any]:
    """The rows of a damaged file that SQLite still gives, from either end."""
    for order in ("", " DESC"):
        try:
            with closing(sqlite3.connect(path)) as base:
                base.text_factory = lambda raw: raw.decode(errors="replace")
                cursor = base.execute(_ROWS + order)
                while (row := cursor.fetchone()) is not None:
                    if _sound(*row):
                        yield row
        except _DAMAGE:
            continue


def _free_name(path: Path) -> Path:
    """Where a damaged file can be put."""
    names = (path.with_name(f"{path.name}.damaged{n or ''}") for n in count())
    return next(name for name in names if not name.exists())
