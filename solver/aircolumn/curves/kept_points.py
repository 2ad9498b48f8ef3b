"""Points that a command has marched, kept in its folder until its results are there: stopped and begun again
it goes on from them.

Each stretch of points (engine/model/stretches.py) is a row of a SQLite file, found by a digest of all it
depends on: engines, speeds, refinement, the states that it starts from, the solver. A row holds its own
digest too; what does not agree with it counts as not there, and a file that cannot be read is begun anew.
Numbers are kept as they are in memory, so results come out the same to the last bit.
"""

from __future__ import annotations

import hashlib
import io
import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.engine.description.engine_file import computed_part
from aircolumn.engine.model.convergence import Approach
from aircolumn.engine.model.figures import OperatingPoint
from aircolumn.engine.model.ledger import Ledger
from aircolumn.engine.model.neighbours import Settled
from aircolumn.engine.model.stretches import Marched
from aircolumn.flow.network.state import State
from aircolumn.sources import solver_version
from aircolumn.unfinished import UNFINISHED, unlink_unfinished

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.model.stretches import Stretch

KINDS = {kind.__name__: kind for kind in (Approach, Ledger, Marched, OperatingPoint, Settled, State)}
_current: KeptPoints | None = None


class KeptPoints:
    """The points of one unfinished command; taken: how many were there already."""

    def __init__(self, path: Path) -> None:
        self.path, self.taken = path, 0
        self.base: sqlite3.Connection | None = None
        self.engines: dict[int, tuple[Engine, str]] = {}
        self.states: dict[int, tuple[Settled, str]] = {}
        if path.is_file():
            self._open()

    def get(self, stretch: Stretch) -> list[Marched] | None:
        """The points of a stretch, if they are there."""
        if self.base is None:
            return None
        with suppress(sqlite3.Error, ValueError, KeyError, TypeError):
            row = self.base.execute("SELECT data, digest FROM stretches WHERE key = ?", (self._key(stretch),))
            data, digest = row.fetchone() or (b"", "")
            if digest == hashlib.sha256(data).hexdigest():
                found = unpacked(data)
                self.taken += len(found)
                return found
        return None

    def put(self, stretch: Stretch, found: list[Marched], with_ends: bool) -> None:
        """Keep the points of a stretch; with_ends: and what others start from. Without room they are not."""
        on_others = bool(stretch.neighbours)  # nothing starts from what hangs on others
        data = packed(found if with_ends and not on_others else [replace(m, settled=None) for m in found])
        row = self._key(stretch), data, hashlib.sha256(data).hexdigest()
        with suppress(OSError, sqlite3.Error):
            if self.base is None:
                self.path.parent.mkdir(parents=True, exist_ok=True)
                self._open()
            assert self.base is not None
            with self.base:
                self.base.execute("INSERT OR REPLACE INTO stretches VALUES (?, ?, ?)", row)

    def close(self) -> None:
        """Close the file."""
        if self.base is not None:
            self.base.close()
            self.base = None

    def _open(self) -> None:
        try:
            self.base = _opened(self.path)
        except sqlite3.Error:
            unlink_unfinished(self.path.parent)
            self.base = _opened(self.path)

    def _key(self, stretch: Stretch) -> str:
        points = [[at, self._engine(engine), rpm] for at, engine, rpm in stretch.points]
        before = [None if n is None else self._state(n) for n in stretch.neighbours]
        told = json.dumps([points, stretch.refinement, before, solver_version()])
        return hashlib.sha256(told.encode()).hexdigest()

    def _state(self, settled: Settled) -> str:
        """A digest of what others start from."""
        if id(settled) not in self.states:
            self.states[id(settled)] = settled, hashlib.sha256(packed(settled)).hexdigest()
        return self.states[id(settled)][1]

    def _engine(self, engine: Engine) -> str:
        """A digest of all that points depend on; the engine is held, so that its number stays its own."""
        if id(engine) not in self.engines:
            text = json.dumps(computed_part(engine), sort_keys=True)
            self.engines[id(engine)] = engine, hashlib.sha256(text.encode()).hexdigest()
        return self.engines[id(engine)][1]


def _opened(path: Path) -> sqlite3.Connection:
    base = sqlite3.connect(path, timeout=10.0)
    try:
        base.execute("PRAGMA journal_mode=WAL")
        base.execute("PRAGMA synchronous=OFF")  # a power cut may cost them, a killed process does not
        base.execute("CREATE TABLE IF NOT EXISTS stretches (key TEXT PRIMARY KEY, data BLOB, digest TEXT)")
    except sqlite3.Error:
        base.close()
        raise
    return base


@contextmanager
def keeping(folder: Path) -> Iterator[KeptPoints]:
    """While this lasts, points that are marched are kept in a folder, and taken from there."""
    global _current
    kept = _current = KeptPoints(folder / UNFINISHED)
    try:
        yield kept
    finally:
        _current = None
        kept.close()


def current() -> KeptPoints | None:
    """Where points are kept now, or None."""
    return _current


def packed(value: Any) -> bytes:
    """Points or a state as bytes: a line of JSON for what they are made of, then their arrays."""
    arrays: list[np.ndarray] = []
    text = json.dumps(_plain(value, arrays))
    return b"".join([text.encode(), b"\n", *(a.tobytes() for a in arrays)])


def unpacked(data: bytes) -> Any:
    """What packed() made bytes of. Raises ValueError, KeyError or TypeError for other bytes."""
    text, _, rest = data.partition(b"\n")
    return _made(json.loads(text), io.BytesIO(rest))


def _plain(value: Any, arrays: list[np.ndarray]) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        made = {f.name: _plain(getattr(value, f.name), arrays) for f in fields(value)}
        return {"kind": type(value).__name__, "of": made}
    if isinstance(value, np.ndarray):
        arrays.append(value)
        return {"array": [value.dtype.str, value.shape]}
    if isinstance(value, dict):
        return {"dict": [[key, _plain(v, arrays)] for key, v in value.items()]}
    if isinstance(value, (list, tuple)):
        return {"list" if isinstance(value, list) else "tuple": [_plain(v, arrays) for v in value]}
    if value is None or isinstance(value, (str, bool, int)):
        return value
    return {"number": float(value).hex()}


def _made(plain: Any, held: io.BytesIO) -> Any:
    if not isinstance(plain, dict):
        return plain
    if "kind" in plain:
        return KINDS[plain["kind"]](**{name: _made(v, held) for name, v in plain["of"].items()})
    if "array" in plain:
        (kind, shape), own = plain["array"], np.dtype(plain["array"][0])
        size = int(np.prod(shape)) * own.itemsize
        return np.frombuffer(held.read(size), dtype=kind).reshape(shape).copy()
    if "dict" in plain:
        return {key: _made(v, held) for key, v in plain["dict"]}
    if "number" in plain:
        return float.fromhex(plain["number"])
    ((name, values),) = plain.items()
    return [_made(v, held) for v in values] if name == "list" else tuple(_made(v, held) for v in values)
