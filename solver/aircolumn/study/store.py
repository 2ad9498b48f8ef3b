"""Finished points on disk (SQLite): each is there before it is announced.

A point is found by a digest of all it depends on (engine, speed, solver, mesh), so a changed engine
file or solver can never be mixed with old results: old points stay in the file and are not used.
Write-ahead logging keeps every committed point through the killing of the process; what was being
written is rolled back on the next start. (A power cut may cost the last points, never the file.)
"""

import sqlite3
from pathlib import Path

import numpy as np

from aircolumn.errors import RequestError
from aircolumn.study.work import Outcome

_TABLE = "CREATE TABLE IF NOT EXISTS point (key TEXT PRIMARY KEY, figures BLOB, reason TEXT)"


class Store:
    """The points of one study folder."""

    def __init__(self, path):
        self.path = Path(path)
        try:
            self.base = sqlite3.connect(self.path, timeout=60.0)
            self.base.execute("PRAGMA journal_mode=WAL")
            self.base.execute("PRAGMA synchronous=NORMAL")
            self.base.execute(_TABLE)
        except sqlite3.Error as error:
            raise RequestError(
                f"{self.path} cannot be used as a store of points ({error}); move it away"
            ) from None
        self.asked: set[str] = set()

    def close(self):
        """Close the file."""
        self.base.close()

    def put(self, keys, outcomes):
        """Write the points of a task, all or none."""
        rows = [
            (k, None if o.figures is None else o.figures.astype("<f8").tobytes(), o.reason)
            for k, o in zip(keys, outcomes, strict=True)
        ]
        with self.base:
            self.base.executemany("INSERT OR REPLACE INTO point VALUES (?, ?, ?)", rows)

    def get(self, keys) -> dict[str, Outcome]:
        """The outcomes there are of ``keys``."""
        self.asked.update(keys)
        found = {}
        for key in keys:
            row = self.base.execute(
                "SELECT figures, reason FROM point WHERE key = ?", (key,)
            ).fetchone()
            if row is not None:
                figures = None if row[0] is None else np.frombuffer(row[0], "<f8")
                found[key] = Outcome(figures, row[1])
        return found

    def count(self) -> int:
        """How many points the file holds."""
        return self.base.execute("SELECT count(*) FROM point").fetchone()[0]

    def others(self) -> int:
        """How many points the file holds that nobody has asked for: those of another engine file,
        plan or solver version."""
        return self.count() - len(self.asked)
