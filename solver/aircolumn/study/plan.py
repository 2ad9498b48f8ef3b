"""A study file to a plan: which keys of which engine file take which values, at which speeds."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property, reduce
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from aircolumn.curves.accuracy import ChosenCells
from aircolumn.curves.speeds import speeds_of
from aircolumn.engine.description.base import CANDIDATES, RUNNERS, required
from aircolumn.engine.description.candidates import Manifold
from aircolumn.engine.description.computing import Speeds
from aircolumn.engine.description.engine_file import Engine, computed_part
from aircolumn.engine.description.given import check_speeds
from aircolumn.engine.description.places import value_at
from aircolumn.engine.description.reader import described
from aircolumn.engine.description.source import Source, read_source
from aircolumn.engine.description.text_file import AsRead
from aircolumn.engine.description.validated import validated
from aircolumn.errors import InputError, Problem
from aircolumn.study.axes import RUNNER, Axis, sampled, with_key
from aircolumn.study.axis_reader import NAME, AxisReader, wrong_at
from aircolumn.study.limits import cases_of, too_many_cases, too_many_keys
from aircolumn.study.models import StudyFile
from aircolumn.study.varied import overlapping, runners_asked

GROUPS_OF_CANDIDATES = (RUNNERS, CANDIDATES, "switchable", "fitted")


@dataclass(frozen=True)
class Case:
    """One engine of a study: the values of its axes, and the engine or why there is none."""

    values: tuple
    engine: Engine | None
    reason: str = ""


class Plan:
    """A checked study. ``study``: its file's keys; ``runners``: the candidates it is about (none: the file's
    own runner), ``runner``: the first; ``bases``: the engine file's data with each bolted on; ``axes``;
    ``speeds`` (rev/min); ``cells`` that its cases are to have, or None. Raises InputError with all that is
    wrong with it."""

    cells: ChosenCells | None = None

    def __init__(self, source: Source, study: StudyFile) -> None:
        self._problems: list[Problem] = []
        self.source, self.study = source, study
        self.engine_source = read_source(source.path.parent / study.engine)
        self.description = described(self.engine_source)  # says what is wrong with the file itself
        named = any(group in self.engine_source.data for group in (RUNNERS, CANDIDATES))
        self.candidates = self.description.candidates if named else {}
        self.runners = self._runners()
        asked: list[str | None] = [*self.runners] or [None]
        self.bases = {name: self._base(name) for name in asked}
        self.runner = next(iter(self.bases))
        self.engine = self._described(self.bases[self.runner])
        self._check_axes()
        self._reader = AxisReader(source, study, self.candidates, self._problems, len(self.runners) > 1)
        self.axes = [a for a in self._reader.axes() if self.runners or not a.says_runner]
        self._check_alike()
        self.speeds = self._speeds()
        self._check_count()
        self._check_ends()
        self.slice = self._slice()
        if self._problems:
            raise InputError(source.path, self._problems)

    @property
    def files(self) -> list[AsRead]:
        """Study file, engine file and what that names, as they were read."""
        return [*self.source.files, *self.engine_source.files]

    @cached_property
    def rows(self) -> list[tuple]:
        """The values of every case of a grid, sample or list, in order."""
        return self._table()

    def on(self, cells: ChosenCells | None, speeds: np.ndarray | None = None) -> Plan:
        """The same plan, its cases on these cells (at other speeds)."""
        plan = copy(self)
        plan.cells, plan.speeds = cells, self.speeds if speeds is None else speeds
        return plan

    @property
    def count(self) -> int:
        """How many cases there are, or may be (a search's curves, those of a sample of indices)."""
        return cases_of(self.study, self.axes)[1]

    def extremes(self) -> list[Case]:
        """The cases of the first and of the last values."""
        if self.study.cases is not None:
            return [self.case(self.rows[k]) for k in (0, -1)]
        return [self.case([a.ends[k] for a in self.axes]) for k in (0, -1)]

    def case(self, values: Sequence[float | str], axes: Sequence[Axis] | None = None) -> Case:
        """The engine with one value for each axis (of ``axes`` only, if given)."""
        axes = axes or self.axes
        runner = self.runner_of(values, axes)
        data = self.bases[runner]
        for axis, value in _that_count(runner, values, axes):
            try:
                data = with_key(data, axis.path, axis, value)
            except ValueError as error:
                return Case(tuple(values), None, str(error))
            except (LookupError, TypeError):
                return Case(tuple(values), None, f"{axis.key} is not in the engine file")
        try:
            engine = self._described(data)
            return Case(tuple(values), engine if self.cells is None else self.cells.apply(engine))
        except InputError as error:
            # Lines of the engine file say nothing about a value that came from the study.
            reason = "; ".join(f"{p.key}: {p.message}" for p in error.problems)
            return Case(tuple(values), None, reason)

    def data_of(self, values: Sequence[float | str]) -> dict:
        """The engine file's data with these values (of a case that can be made)."""
        runner = self.runner_of(values, self.axes)
        own = _that_count(runner, values, self.axes)
        return reduce(lambda data, pair: with_key(data, pair[0].path, *pair), own, self.bases[runner])

    def manifold(self, values: Sequence[float | str]) -> Manifold:
        """A case that can be made, with what the file is not sure of about it."""
        runner = self.runner_of(values, self.axes)
        return self._manifold(runner, self.data_of(values))

    def manifold_of(self, runner: str | None) -> Manifold:
        """A candidate as the file has it (None: its own runner)."""
        return self._manifold(runner, self._base(runner))

    def _manifold(self, runner: str | None, data: dict) -> Manifold:
        base = self.candidates.get(runner or "")
        own, spreads = ({}, self.engine_source.spreads) if base is None else (base.own, base.spreads)
        there = {
            path: spread
            for path, spread in spreads.items()
            if path[0] not in GROUPS_OF_CANDIDATES and value_at(data, path) is not None
        }
        return Manifold(self._described(data), data, own, there)

    def engine_of(self, runner: str | None) -> Engine:
        """That of a candidate as the file has it (None: with its own runner)."""
        return self._described(self._base(runner))

    def runner_of(self, values: Sequence[float | str], axes: Sequence[Axis]) -> str | None:
        """The candidate of a case: the one its values name, else the one whose key is among them."""
        named = (str(v) for a, v in zip(axes, values, strict=True) if a.says_runner)
        owners = (a.owner for a in axes if a.owner is not None)
        return next(named, next(owners, self.runner))

    def grid_shape(self) -> tuple[int, ...] | None:
        """Lengths of the axes if the cases are a full grid."""
        if self.study.cases is not None or self.study.sample is not None:
            return None
        return tuple(len(a.values) for a in self.axes)

    def case_words(self, values: tuple[float, ...]) -> str:
        """The values of a case in words, with its name if it has one."""
        said = ", ".join(a.words_of(v) for a, v in zip(self.axes, values, strict=True))
        name = self._names.get(tuple(values))
        return said if name is None else f"{name}: {said}"

    @cached_property
    def case_names(self) -> list:
        """What cases are called: their names, else numbers from 1 on."""
        return [self._names.get(values, k) for k, values in enumerate(self.rows, 1)]

    def wrong(self, path: tuple, message: str) -> InputError:
        """An error at a place of the study file."""
        return wrong_at(self.source, path, message)

    @cached_property
    def _names(self) -> dict[tuple, str]:
        """Values of a listed case to its name."""
        cases = self.study.cases or []
        listed = zip(cases, self.rows if cases else [], strict=True)
        return {values: str(case[NAME]) for case, values in listed if NAME in case}

    def _runners(self) -> list[str]:
        """The candidates asked for: one by name or by a key of its own, or those to choose among."""
        study = self.study
        if study.cases is None:
            keys, varied = list(study.vary), study.vary.get(RUNNER)
            among = [str(v) for v in varied] if isinstance(varied, list) else []
        else:
            keys = list(study.cases[0])
            among = list(dict.fromkeys(str(c[RUNNER]) for c in study.cases if RUNNER in c))
        try:
            return runners_asked(study.runner, among, keys, self.candidates)
        except ValueError as error:
            varied_at = ("vary", RUNNER) if study.cases is None else ("cases", 0)
            self._problems += self.wrong(varied_at if among else ("runner",), str(error)).problems
            return []

    def _base(self, runner: str | None) -> dict:
        """The engine file's data with a runner bolted on, without its candidates."""
        if runner is not None:
            return self.candidates[runner].data
        return {k: v for k, v in self.engine_source.data.items() if k not in GROUPS_OF_CANDIDATES}

    def _described(self, data: dict[str, Any]) -> Engine:
        return described(self.engine_source.with_data(data)).engine

    def _speeds(self) -> np.ndarray:
        required = self.study.speeds
        if required is None:
            return speeds_of(self.engine)
        if isinstance(required, Speeds):
            return speeds_of(self.engine.changed(speeds=required))
        return check_speeds(required)

    def _table(self) -> list[tuple]:
        if self.study.cases is not None:
            return list(zip(*(a.values for a in self.axes), strict=True))
        if self.study.sample is not None:
            return self.scaled(sampled(self.study.sample, len(self.axes)))
        return list(product(*(a.values for a in self.axes)))

    def scaled(self, shares: Any) -> list[tuple]:
        """Values of the axes from shares 0 to 1, one row a case."""
        return [tuple(a.scaled(s) for a, s in zip(self.axes, row, strict=True)) for row in shares]

    def _check_axes(self) -> None:
        """Not more keys than can be checked beforehand. Raises InputError."""
        listed = self.study.cases is not None
        keys = [k for k in (required(self.study.cases)[0] if listed else self.study.vary) if k != NAME]
        if said := too_many_keys(len(keys), self.description.size):
            raise self.wrong(("cases", 0) if listed else ("vary",), said)

    def _check_count(self) -> None:
        place, cases = cases_of(self.study, self.axes)
        if said := too_many_cases(cases, len(self.speeds)):
            self._problems += self.wrong((place,), said).problems

    def _slice(self) -> dict[str, int]:
        """Axis name to the number of the value at which pictures are drawn."""
        chosen = {}
        further = {} if self.grid_shape() is None else {a.key: a for a in self.axes[1:]}
        for key, value in self.study.slice.items():
            axis = further.get(key)
            if axis is None:
                known = ", ".join(further) or "none: it needs a grid of two keys or more"
                said = f"a slice is taken at a value of a further key ({known})"
                self._problems += self.wrong(("slice", key), said).problems
                continue
            try:
                unit, (number,) = (
                    ("", [value])
                    if isinstance(axis.values[0], str)
                    else (self._reader.numbers([value], ("slice", key)))
                )
                if unit != axis.unit:
                    raise self.wrong(("slice", key), f"write it in {axis.unit or 'no unit'}")
                chosen[axis.name] = axis.nearest(number)
            except InputError as error:
                self._problems += error.problems
            except ValueError:
                said = f"{axis.key} has no value '{value}' here"
                self._problems += self.wrong(("slice", key), said).problems
        return chosen

    def _check_alike(self) -> None:
        """Keys one of which would overwrite the other, and values or cases that stand twice."""
        listed = self.study.cases is not None
        owner = {a.key: a.owner for a in self.axes}
        paths = {a.key: list(a.path) for a in self.axes if not a.says_runner}
        for key, other in overlapping(paths):
            if None not in (owner[key], owner[other]) and owner[key] != owner[other]:
                continue  # of two candidates, of which one at a time is bolted on
            said = f"{other} and {key} overlap: one would overwrite the other; keep one"
            self._problems += self.wrong(("cases", 0) if listed else ("vary", other), said).problems
        if listed:
            for k, first in _repeated(self.rows if self.axes else []):
                said = f"this case has the values of case {first + 1}"
                self._problems += self.wrong(("cases", k), said).problems
            return
        for axis in self.axes:
            for k, _ in _repeated(axis.values)[:1]:
                said = f"{axis.written(axis.values[k])} stands here twice"
                self._problems += self.wrong(("vary", axis.key), said).problems

    def _check_ends(self) -> None:
        """A key or value no engine can have is an error now, not a failed point later."""
        middle = [a.values[len(a.values) // 2] if a.values else a.scaled(0.5) for a in self.axes]
        for k, axis in enumerate(self.axes):
            ends = axis.ends
            alone = [self.case([v], [axis]) for v in ends]
            # Some keys only fit together, such as the bores of a runner and its port.
            together = [self.case([*middle[:k], v, *middle[k + 1 :]]) for v in ends]
            place = ("cases", 0, axis.key) if self.study.cases else ("vary", axis.key)
            if all(c.engine is None for c in alone + together):
                self._problems += self.wrong(place, alone[0].reason).problems
            elif ends[0] != ends[1] and all(_same_points(*pair) for pair in (alone, together)):
                said = f"{axis.key} changes nothing that is computed here"
                self._problems += self.wrong(place, said).problems


def _that_count(
    runner: str | None, values: Sequence[float | str], axes: Sequence[Axis]
) -> list[tuple[Axis, float | str]]:
    """The keys that stand in the data of a candidate, with their values: not those of another one."""
    pairs = zip(axes, values, strict=True)
    return [(a, v) for a, v in pairs if not a.says_runner and a.owner in (None, runner)]


def read_plan(path: str | Path, kind: type[StudyFile]) -> Plan:
    """Read and check a study file with the keys of ``kind``. Raises InputError."""
    source = read_source(Path(path))
    problems: list[Problem] = []
    if isinstance(source.data, dict) and isinstance(source.data.get("intake"), dict):
        said = "this is an engine file; a study file names one under `engine` and says what to vary"
        raise InputError(source.path, [Problem(1, 1, "", said)])
    study = validated(kind, source.data, source, problems, ())
    if study is None:
        raise InputError(source.path, problems)
    return Plan(source, study)


def _repeated(items: Sequence[float | tuple[float | str, ...]]) -> list[tuple[int, int]]:
    """(where, where first) of the items that stood before."""
    first: dict = {}
    return [(k, first[v]) for k, v in enumerate(items) if first.setdefault(v, k) != k]


def _same_points(first: Case, second: Case) -> bool:
    """Whether the points of two cases are the same."""
    if first.engine is None or second.engine is None:
        return False
    return computed_part(first.engine) == computed_part(second.engine)
