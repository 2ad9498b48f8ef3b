"""Candidates of an engine file: manifolds to set side by side, each as an engine of its own.

``runners`` gives each candidate the keys of intake.runner that differ. ``candidates`` gives each the keys of
the whole file that differ, by their path: what is named there replaces what stands there, a group the whole
group, ``null`` takes it away; all else is that of the file. A candidate may also be another engine file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, TypeVar

from aircolumn.engine.description.base import BY_CYLINDER, CANDIDATES, RUNNERS, FileModel
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.pipes import Runner
from aircolumn.engine.description.places import Path, value_at, with_value
from aircolumn.engine.description.source import Source, problem
from aircolumn.engine.description.validated import validated
from aircolumn.errors import InputError, Problem

#: Of an engine file, and of all its parts as each cylinder of each candidate has them.
MOST_RUNNERS, MOST_EXPANDED = 20, 150_000
LONGEST_NAME = 40  # characters
FOREIGN_TO_FILES = '/\\:*?"<>|'  # what some systems do not have in file names
#: Names that Windows keeps for devices, whatever their ending.
DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{k}" for port in ("com", "lpt") for k in range(1, 10))}
#: What stands behind a candidate's name in the names of its files.
BEHIND_NAMES = re.compile(r"-(air|air-with-bellmouth|area|drawing|events|map|pv|route|views|\d+-of-\d+)$")
SHAPE_KEYS = ("length", "bore", "sections", "route", "sizes")
#: What a key of the shape takes the place of.
IN_PLACE_OF = {
    "length": ("route", "sections"),
    "route": ("length", "lengths", "sections"),
    "bore": ("sizes", "sections"),
    "sizes": ("bore", "sections"),
    "sections": ("length", "bore", "route", "sizes"),
}
#: What all candidates of a file have in common.
COMMON = (
    "title",
    "units",
    "speeds",
    "numerics",
    "pull",
    "traces",
    "fuelling",
    "fitted",
    RUNNERS,
    CANDIDATES,
    "switchable",
)

Model = TypeVar("Model", bound=FileModel)


@dataclass(frozen=True)
class Manifold:
    """One manifold. engine: with it; data: of an engine file that has it alone; own: {path there of what it
    states itself: path in the file}; spreads: how uncertain its values are, by path in ``data``."""

    engine: Engine
    data: dict
    own: dict[Path, Path] = field(default_factory=dict)
    spreads: dict[Path, Any] = field(default_factory=dict)

    def in_file(self, path: Path) -> Path | None:
        """Where in the file the candidate states what stands at a path of its data; None if it does not."""
        for there, here in self.own.items():
            if path[: len(there)] == there:
                return (*here, *path[len(there) :])
        return None


class Room:
    """How many more values the parts of all cylinders and candidates may have."""

    def __init__(self, source: Source) -> None:
        self.source, self.left = source, MOST_EXPANDED

    def take(self, count: int) -> None:
        """Raises InputError if there are no more."""
        self.left -= count
        if self.left < 0:
            said = (
                f"more than {MOST_EXPANDED} values once area schedules, by_cylinder and candidates"
                " are written out; leave some out"
            )
            raise InputError(self.source.path, [problem(self.source, (), said)])


@dataclass(frozen=True)
class Reading:
    """A file that is being read: its room for values, and all that was found wrong with it so far."""

    source: Source
    room: Room
    problems: list[Problem] = field(default_factory=list)

    def wrong(self, path: Path, said: str) -> None:
        """What is wrong at a place."""
        self.problems.append(problem(self.source, path, said))

    def valid(
        self, model: type[Model], data: Any, path: Path = (), there: Source | None = None
    ) -> Model | None:
        """The checked model of data of a place, its parts written out; there: with places of its own."""
        return validated(model, filled_in(data, self.room), there or self.source, self.problems, path)


def the_only_one(engine: Engine, data: dict, source: Source) -> dict[str, Manifold]:
    """The candidates of a file that has none: its own runner."""
    return {"runner": Manifold(engine, data, {}, dict(source.spreads))}


def wrong_group(group: Any, name: str, source: Source) -> Problem | None:
    """What is wrong with the group of candidates as a whole."""
    if not isinstance(group, dict) or not group:
        return problem(source, (name,), "give at least one 'name: {...}' here")
    if len(group) > MOST_RUNNERS:
        return problem(source, (name,), f"{len(group)} {name}; at most {MOST_RUNNERS} (a study takes more)")
    return _clash(group, name, source)


def _clash(group: dict, name: str, source: Source) -> Problem | None:
    """Two candidates whose results would have one file name (on some systems)."""
    seen: dict[str, str] = {}
    for one in group:
        own = one.casefold()
        stem = BEHIND_NAMES.sub("", own)
        other = (
            seen.setdefault(own, one)
            if stem == own
            else next((n for n in group if n.casefold() == stem), one)
        )
        if other != one:
            said = f"results of '{one}' and '{other}' would share file names; change one of the names"
            return problem(source, (name, one), said)
    return None


def runners_of(engine: Engine | None, data: dict, group: dict, read: Reading) -> dict[str, Manifold]:
    """The candidates of ``runners``; data: of the file without its candidates. Of a file whose engine is
    wrong they are checked all the same, unless its own runner is."""
    base = value_at(data, ("intake", "runner"))
    if engine is None and Reading(read.source, read.room).valid(Runner, base) is None:
        return {}
    found: dict[str, Manifold] = {}
    for name, changes in group.items():
        path = (RUNNERS, name)
        if not isinstance(changes, dict):
            read.wrong(path, "the runner's keys are expected here")
            continue
        if reason := why_no_name(name):
            read.wrong(path, reason)
            continue
        merged = changed_pipe(base, changes)
        runner = read.valid(Runner, merged, path)
        if runner is not None and engine is not None:
            own: dict[Path, Path] = {("intake", "runner", key): (*path, key) for key in changes}
            whole = {**data, "intake": {**data["intake"], "runner": merged}}
            found[name] = Manifold(engine.with_intake(runner=runner), whole, own, _spreads(own, read.source))
    return found


def manifolds_of(
    engine: Engine, data: dict, group: dict, read: Reading, load: Callable
) -> dict[str, Manifold]:
    """The candidates of ``candidates``; load(name of a file) -> its only candidate, or raises InputError."""
    found = {}
    for name, changes in group.items():
        path = (CANDIDATES, name)
        if reason := why_no_name(name):
            read.wrong(path, reason)
        elif isinstance(changes, str):
            found[name] = with_common(load(changes), engine, data)
        elif not isinstance(changes, dict):
            read.wrong(path, "keys of the file with what differs are expected here, or another engine file")
        elif wrong := list(_not_of_candidates(changes, path, read.source)):
            read.problems.extend(wrong)
        else:
            one = _manifold(data, path, changes, read)
            found.update({name: one} if one is not None else {})
    return found


def _not_of_candidates(changes: dict, path: Path, source: Source) -> Iterator[Problem]:
    for key in changes:
        first = key.split(".")[0]
        if first in COMMON:
            yield problem(source, (*path, key), f"{first} is the same for all candidates")
        for group in changes:
            if key.startswith(f"{group}."):
                said = f"{group} stands beside it, and a group replaces the whole group: say it there"
                yield problem(source, (*path, key), said)


def _manifold(data: dict, path: Path, changes: dict, read: Reading) -> Manifold | None:
    """One candidate that differs in some keys."""
    whole, own = data, {}
    for key, value in changes.items():
        steps = _steps(whole, key)
        group = value_at(whole, steps[:-1])
        own[steps] = (*path, key)
        if isinstance(group, dict) and steps[-1] in SHAPE_KEYS:
            whole = with_value(whole, steps[:-1], changed_pipe(group, {steps[-1]: value}))
            continue
        try:
            whole = with_value(whole, steps, value)
        except (LookupError, TypeError, AttributeError):
            read.wrong((*path, key), f"{key} has no place in the file")
            return None
    changed = read.valid(Engine, whole, there=told_there(read.source, own))
    return None if changed is None else Manifold(changed, whole, own, _spreads(own, read.source))


def _steps(data: dict, key: str) -> Path:
    """The path of a dotted key; numbers are places in lists."""
    steps: Path = ()
    for word in key.split("."):
        inside = isinstance(value_at(data, steps), list) and word.isdecimal()
        steps = (*steps, int(word) if inside else word)
    return steps


def told_there(source: Source, own: dict[Path, Path]) -> Source:
    """The file, what a candidate states, and the groups that it stands in, being where the candidate states
    it."""
    places = dict(source.places)
    for there, here in own.items():
        n = len(here)
        places.update({there[:k]: source.place(here) for k in range(1, len(there))})
        moved = {(*there, *p[n:]): at for p, at in source.places.items() if p[:n] == here}
        places.update(moved)
    return Source(source.path, source.data, places, source.raw, source.beside, source.spreads)


def _spreads(own: dict[Path, Path], source: Source) -> dict[Path, Any]:
    """How uncertain a candidate's values are: as it states them, else as the file does."""
    found = {
        path: spread
        for path, spread in source.spreads.items()
        if path[0] not in (RUNNERS, CANDIDATES) and not any(path[: len(o)] == o for o in own)
    }
    for there, here in own.items():
        n = len(here)
        found.update({(*there, *p[n:]): s for p, s in source.spreads.items() if p[:n] == here})
    return found


def with_common(other: Manifold, engine: Engine, data: dict) -> Manifold:
    """The candidate of another file, with what all have in common."""
    e = other.engine
    changed = e.changed(title=engine.title, speeds=engine.speeds, numerics=engine.numerics, pull=engine.pull)
    whole = {k: v for k, v in other.data.items() if k not in COMMON}
    whole |= {k: data[k] for k in COMMON if k in data}
    return Manifold(changed, whole, other.own, other.spreads)


def why_no_name(name: str) -> str:
    """Why ``name`` cannot be that of a runner, a switchable manifold or a case: it stands in file
    names and pictures; "" if it can."""
    begin = f"'{name[:LONGEST_NAME]}' cannot be a name"
    if not name.strip() or not name.isprintable() or len(name) > LONGEST_NAME:
        return f"{begin}: use 1 to {LONGEST_NAME} characters that can be printed"
    if found := [c for c in FOREIGN_TO_FILES if c in name]:
        return f"{begin}: it goes into file names, which cannot hold {found[0]}"
    if name[0] in "-. " or name[-1] in ". ":
        return f"{begin}: it goes into file names, so it cannot begin with - or a dot or end with a dot"
    if name.partition(".")[0].strip().casefold() in DEVICES:
        return f"{begin}: Windows keeps it for a device"
    return ""


def filled_in(data: Any, room: Room) -> Any:
    """``data`` where every part listed under by_cylinder is whole: keys not repeated there are
    those of the part it stands in."""
    room.take(1)
    if isinstance(data, list):
        return [filled_in(v, room) for v in data]
    if not isinstance(data, dict):
        return data
    before = room.left
    filled = {key: filled_in(value, room) for key, value in data.items() if key != BY_CYLINDER}
    if BY_CYLINDER not in data:
        return filled
    size, differing = before - room.left, filled_in(data[BY_CYLINDER], room)
    if isinstance(differing, dict):
        room.take(size * len(differing))
        differing = {k: changed_pipe(filled, v) if isinstance(v, dict) else v for k, v in differing.items()}
    return {**filled, BY_CYLINDER: differing}


def changed_pipe(base: dict, changes: dict) -> dict:
    """Keys of a pipe with those of a candidate in their place."""
    stated = {key for key, value in changes.items() if value is not None}  # null takes away
    replaced = {other for key in stated for other in IN_PLACE_OF.get(key, ())}
    merged = {k: v for k, v in base.items() if k not in replaced}
    if {"length", "sections", "route"} & stated:  # one length for all cylinders
        merged.pop("lengths", None)
        if isinstance(merged.get(BY_CYLINDER), dict):
            merged[BY_CYLINDER] = {k: _without_shape(v) for k, v in merged[BY_CYLINDER].items()}
    return {**merged, **changes}


def _without_shape(part: Any) -> Any:
    if not isinstance(part, dict):
        return part
    return {key: value for key, value in part.items() if key not in SHAPE_KEYS}
