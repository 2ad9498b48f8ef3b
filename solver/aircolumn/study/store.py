"""Finished points on disk (SQLite): each is there before it is announced.

A point is found by a digest of all it depends on (engine, speed, solver, mesh), so a changed engine
file or solver can never be mixed with old results: old points stay in the file and are not used.
Write-ahead logging keeps every committed point through the killing of the process; what was being
written is rolled back on the next start. (A power cut may cost the last points, never the file.)

Every row carries a checksum of its key and contents, and is checked when it is read: a damaged one
is as if it were not there, and its point is computed again. A file whose pages are damaged is
copied row by row, as far as it can be read.
"""

import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np

from aircolumn.errors import ComputationError, RequestError
from aircolumn.study.work import NAMES, Outcome

_TABLE = (
    "CREATE TABLE IF NOT EXISTS points"
    " (key TEXT PRIMARY KEY, figures BLOB, reason TEXT, checksum BLOB)"
)
_OURS = {"points", "point"}  # the latter: without checksums, of earlier versions
_SIZE = 8 * len(NAMES)
_SUFFIXES = ("", "-wal", "-shm")


class Store:
    """The points of one study folder. asked: keys that were asked for; written: points put there;
    damaged: places that could not be used."""

    def __init__(self, path):
        self.path = Path(path)
        self.asked: set[str] = set()
        self.damaged = self.written = 0
        try:
            self.base = self._opened()
        except sqlite3.OperationalError as error:
            raise RequestError(f"{self.path} cannot be opened: {error}") from None
        except sqlite3.DatabaseError:
            self.base = self._salvaged()

    def _opened(self):
        base = sqlite3.connect(self.path, timeout=60.0)
        try:
            tables = {row[0] for row in base.execute("SELECT name FROM sqlite_master")
                      if not row[0].startswith("sqlite_")}  # fmt: skip
            if tables - _OURS:
                raise RequestError(f"{self.path} is a database of another kind; move it away")
            base.execute("PRAGMA journal_mode=WAL")
            base.execute("PRAGMA synchronous=NORMAL")
            base.execute(_TABLE)
            if base.execute("PRAGMA quick_check(1)").fetchone() != ("ok",):
                raise sqlite3.DatabaseError("damaged")
        except BaseException:
            base.close()
            raise
        return base

    def _salvaged(self):
        """A new file with every row of the damaged one that can still be read."""
        with open(self.path, "rb") as file:
            if file.read(16) != b"SQLite format 3\0" and self.path.stat().st_size:
                raise RequestError(f"{self.path} is not a store of points; move it away")
        rows = list(_readable(self.path))
        aside = self.path.with_name(f"{self.path.name}.damaged")
        for suffix in _SUFFIXES:
            old = Path(f"{self.path}{suffix}")
            if old.exists():
                old.replace(f"{aside}{suffix}")
        self.damaged += 1
        base = self._opened()
        with base:
            base.executemany("INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?)", rows)
        return base

    def close(self):
        """Close the file."""
        self.base.close()

    def put(self, keys, outcomes):
        """Write the points of a task, all or none. Raises ComputationError if there is no room."""
        rows = []
        for key, o in zip(keys, outcomes, strict=True):
            figures = None if o.figures is None else o.figures.astype("<f8").tobytes()
            rows.append((key, figures, o.reason, _checksum(key, figures, o.reason)))
        try:
            with self.base:
                self.base.executemany("INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?)", rows)
            self.written += len(rows)
        except sqlite3.Error as error:
            raise ComputationError(
                f"points can no longer be kept in {self.path} ({error}); those before are there:"
                " make room, then run the same command to go on"
            ) from None

    def get(self, keys) -> dict[str, Outcome]:
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
        except sqlite3.DatabaseError as error:
            raise RequestError(f"{self.path} cannot be read ({error}); move it away") from None

    def others(self) -> int:
        """How many points the file holds that nobody has asked for: those of another engine file,
        plan or solver version."""
        return max(self.count() - len(self.asked), 0)


def _checksum(key: str, figures: bytes | None, reason: str) -> bytes:
    digest = hashlib.sha256()
    for part in (key.encode(), b"" if figures is None else figures, reason.encode()):
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part)
    return digest.digest()


def _sound(key, figures, reason, checksum) -> bool:
    """Whether a row is what was written: kinds, length and checksum."""
    if not isinstance(reason, str) or not (figures is None or isinstance(figures, bytes)):
        return False
    if figures is not None and len(figures) != _SIZE:
        return False
    return checksum == _checksum(key, figures, reason)


def _readable(path: Path):
    """The rows of a damaged file that SQLite still gives."""
    try:
        with closing(sqlite3.connect(path)) as base:
            cursor = base.execute("SELECT key, figures, reason, checksum FROM points")
            while (row := cursor.fetchone()) is not None:
                if isinstance(row[0], str) and _sound(*row):
                    yield row
    except sqlite3.Error:
        return
