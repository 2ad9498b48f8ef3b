"""An engine file that is being changed: what it says now, what it said before, what stands on the disk.

Nothing is lost: every change is kept as a draft in the user's cache until it is saved, and a file that
another program has changed is not overwritten unasked.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from functools import cached_property
from pathlib import Path

from aircolumn.engine.description.base import CANDIDATES, RUNNERS
from aircolumn.engine.description.places import is_stated, value_at, with_value
from aircolumn.engine.description.reader import Description, described
from aircolumn.engine.description.source import LARGEST_FILE, Source, source_of
from aircolumn.engine.description.text_edits import (
    Keys,
    copy_key,
    keys_in_order,
    put_value,
    rename_key,
    take_away,
)
from aircolumn.engine.description.text_file import read_bytes
from aircolumn.errors import InputError, RequestError
from aircolumn.live.keys import in_words
from aircolumn.user_folder import base_folder, usable

MOST_UNDONE = 1000
RUNNER, SWITCHABLE = ("intake", "runner"), "switchable"
TEXTS = {("title",)}  # keys that take any text


class Opened:
    """One file. now: its bytes with all changes; description: what they say; saved: what the disk held when
    it was last read or written; past, future: for undo and redo; restored: whether a draft was found."""

    def __init__(self, path: Path) -> None:
        """Read the file, and the draft of it if there is one. Raises InputError."""
        self.path = Path(path)
        self.saved = read_bytes(self.path, LARGEST_FILE)
        self.description = self._described(self.saved)
        self.now = self.saved
        self.past: list[bytes] = []
        self.future: list[bytes] = []
        self._moving: str | None = None
        self.restored = self._restore()

    @property
    def source(self) -> Source:
        """The file as it stands now."""
        return self.description.source

    @property
    def group(self) -> str | None:
        """The section in which the file has its candidates."""
        return next((g for g in (RUNNERS, CANDIDATES) if g in self.source.data), None)

    @property
    def changed(self) -> bool:
        """Whether there is something to save."""
        return self.now != self.saved

    @property
    def changed_on_disk(self) -> bool:
        """Whether another program has changed the file since."""
        try:
            return read_bytes(self.path, LARGEST_FILE) != self.saved
        except InputError:
            return True

    def change(self, edit: Callable[[Source], bytes], move: str | None = None) -> None:
        """Apply an edit; changes of one ``move`` (a drag of the hand) are undone as one. Raises RequestError
        or InputError, with everything as it was, for what no engine can be."""
        raw = edit(self.source)
        description = self._described(raw)
        if move is None or move != self._moving:
            self.past = [*self.past, self.now][-MOST_UNDONE:]
        self._moving = move
        self.future = []
        self._take(raw, description)

    def undo(self) -> None:
        """One change back, if there is one."""
        self._step(self.past, self.future)

    def redo(self) -> None:
        """One change forward again."""
        self._step(self.future, self.past)

    def _step(self, there: list[bytes], back: list[bytes]) -> None:
        if there:
            raw = there.pop()
            back.append(self.now)
            self._moving = None
            self._take(raw, self._described(raw))

    def put(self, path: Keys, typed: str, candidate: str, shared: bool, move: str | None = None) -> None:
        """Another value for a key of a candidate, or of all. Raises as ``change``."""
        place = self.place_of(path, candidate, shared)
        if place[:1] == (RUNNERS,) and len(place) > 3 and not is_stated(self.source.data, place[:3]):
            group = value_at(self.description.candidates[candidate].data, path[:3])  # which is given whole
            typed = in_words(with_value(group if isinstance(group, dict) else {}, path[3:], typed))
            place = place[:3]
        self.change(lambda source: put_value(source, place, typed, path in TEXTS), move)

    def take_away(self, path: Keys, candidate: str) -> None:
        """A key away, so that its default holds. Raises as ``change``."""
        own = self.description.candidates[candidate].in_file(path)
        self.change(lambda source: take_away(source, own or path))

    def place_of(self, path: Keys, candidate: str, shared: bool = False) -> Keys:
        """Where in the file a key of a candidate stands, or is to stand. Raises RequestError."""
        data, one = self.source.data, self.description.candidates[candidate]
        own = one.in_file(path)
        if own is not None:
            return own
        if RUNNERS in data and path[:2] == RUNNER and not shared:
            return (RUNNERS, candidate, *path[2:])
        if CANDIDATES in data and not shared:
            if isinstance(data[CANDIDATES][candidate], str):
                raise RequestError(f"{candidate} is a file of its own: open that file")
            return (CANDIDATES, candidate, ".".join(map(str, path)))
        return path

    def candidate(self, what: str, name: str, to: str = "", names: list[str] | None = None) -> None:
        """Add (a copy of ``name``), rename, delete or order candidates. Raises as ``change``."""
        group = self.group
        if what == "add" and group is None:
            first = put_value(self.source, (RUNNERS, name), "{}")
            self.change(lambda s: put_value(source_of(s.path, first), (RUNNERS, to), "{}"))
            return
        if group is None:
            raise RequestError("this file has no candidates")
        edits: dict[str, Callable[[Source], bytes]] = {
            "add": lambda s: copy_key(s, (group, name), to),
            "rename": lambda s: _renamed(s, group, name, to),
            "delete": lambda s: _deleted(s, group, name),
            "order": lambda s: keys_in_order(s, (group,), names or []),
        }
        self.change(edits[what])

    def save(self) -> None:
        """Write the file: read back first, put in place in one step. Raises RequestError if another program
        has changed it since, or it cannot be written."""
        if self.changed_on_disk:
            raise RequestError("the file was changed by another program: take its state, or overwrite it")
        self.overwrite()

    def overwrite(self) -> None:
        """Write the file, whatever stands there now."""
        try:
            handle, name = tempfile.mkstemp(dir=self.path.parent, prefix=".", suffix=".yaml")
            with os.fdopen(handle, "wb") as file:
                file.write(self.now)
                file.flush()
                os.fsync(file.fileno())
            if source_of(self.path, Path(name).read_bytes()).data != self.source.data:
                raise RequestError("what was written does not read back the same; the file is as it was")
            if self.path.exists():
                os.chmod(name, self.path.stat().st_mode & 0o7777)
            os.replace(name, self.path.resolve())
        except OSError as error:
            raise RequestError(f"{self.path} cannot be written: {error.strerror}") from None
        self.saved = self.now
        self._draft.unlink(missing_ok=True)

    def take_disk(self) -> None:
        """Go on from what stands on the disk, as a change that can be undone. Raises InputError."""
        raw = read_bytes(self.path, LARGEST_FILE)
        description = self._described(raw)
        self.past, self.future = [*self.past, self.now][-MOST_UNDONE:], []
        self.saved = raw
        self._take(raw, description)

    def _take(self, raw: bytes, description: Description) -> None:
        self.now, self.description = raw, description
        draft = self._draft
        if raw == self.saved:
            draft.unlink(missing_ok=True)
        elif self._keeps:
            scratch = draft.with_suffix(".new")
            scratch.write_bytes(raw)
            os.replace(scratch, draft)

    @cached_property
    def _draft(self) -> Path:
        name = hashlib.sha256(str(self.path.resolve()).encode()).hexdigest()[:32]
        return base_folder() / "aircolumn" / "drafts" / f"{name}.yaml"

    @cached_property
    def _keeps(self) -> bool:
        """Whether drafts can be kept: looked at once, not at every move of the hand."""
        return usable(self._draft.parent)

    def _restore(self) -> bool:
        """Take the draft of an earlier page that was not saved."""
        try:
            raw = read_bytes(self._draft, LARGEST_FILE)
            description = self._described(raw)
        except InputError:
            return False
        if raw == self.saved:
            return False
        self.past, self.now, self.description = [self.saved], raw, description
        return True

    def _described(self, raw: bytes) -> Description:
        return described(source_of(self.path, raw))


def _renamed(source: Source, group: str, name: str, to: str) -> bytes:
    """Also where switchable manifolds name it."""
    raw = rename_key(source, (group, name), to)
    for path in _places_of(source, name):
        raw = put_value(source_of(source.path, raw), path, to, text=True)
    return raw


def _deleted(source: Source, group: str, name: str) -> bytes:
    """Also from switchable manifolds, which need two."""
    raw = take_away(source, (group, name))
    groups = {which for _, which, _ in _places_of(source, name)}
    if groups and len(groups) == len(source.data[SWITCHABLE]):
        return take_away(source_of(source.path, raw), (SWITCHABLE,))
    for which in groups:
        raw = take_away(source_of(source.path, raw), (SWITCHABLE, which))
    return raw


def _places_of(source: Source, name: str) -> list[tuple]:
    """Where switchable manifolds name a candidate."""
    found = source.data.get(SWITCHABLE)
    groups = found.items() if isinstance(found, dict) else ()
    return [
        (SWITCHABLE, which, k)
        for which, names in groups
        if isinstance(names, list)
        for k, one in enumerate(names)
        if one == name
    ]


def problems_of(error: Exception, path: Keys) -> list[dict]:
    """What is wrong, for beside the field that was typed in: [{key, message}]."""
    if isinstance(error, InputError):
        return [{"key": p.key, "message": p.message} for p in error.problems]
    return [{"key": ".".join(map(str, path)), "message": str(error)}]
