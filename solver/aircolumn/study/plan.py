"""A study file to a plan: which keys of which engine file take which values, at which speeds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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
from aircolumn.engine.description.candidates import why_no_name
from aircolumn.engine.description.computing import Speeds
from aircolumn.engine.description.engine_file import Engine, computed_part
from aircolumn.engine.description.given import check_speeds
from aircolumn.engine.description.reader import described
from aircolumn.engine.description.source import Source, read_source
from aircolumn.engine.description.text_file import AsRead
from aircolumn.engine.description.units import split_quantity
from aircolumn.engine.description.validated import validated
from aircolumn.errors import InputError, Problem, no_such
from aircolumn.study.axes import Axis, numbers_in_one_unit, sampled, short_names, with_key
from aircolumn.study.limits import cases_of, too_many_cases, too_many_keys
from aircolumn.study.models import StudyFile
from aircolumn.study.varied import overlapping, path_of, runner_asked, why_not

NAME = "name"  # of a listed case; no key of the engine file stands so high up
GROUPS_OF_CANDIDATES = (RUNNERS, CANDIDATES, "switchable", "fitted")


@dataclass(frozen=True)
class Case:
    """One engine of a study: the values of its axes, and the engine or why there is none."""

    values: tuple
    engine: Engine | None
    reason: str = ""


class Plan:
    """A checked study. ``study``: its file's keys; ``runner``: the candidate it is about, or None;
    ``axes``; ``speeds`` (rev/min); ``cells`` that its cases are to have, or None. Raises InputError
    with all that is wrong with it."""

    cells: ChosenCells | None = None

    def __init__(self, source: Source, study: StudyFile) -> None:
        self._problems: list[Problem] = []
        self.source, self.study = source, study
        self.engine_source = read_source(source.path.parent / study.engine)
        self.description = described(self.engine_source)  # says what is wrong with the file itself
        named = any(group in self.engine_source.data for group in (RUNNERS, CANDIDATES))
        self.candidates = self.description.candidates if named else {}
        self.runner = self._runner()
        self.base = self._base()
        self.engine = self._described(self.base)
        self._check_axes()
        self.axes = self._axes()
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
        data = self.base
        for axis, value in zip(axes or self.axes, values, strict=True):
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
        pairs = zip(self.axes, values, strict=True)
        return reduce(lambda data, pair: with_key(data, pair[0].path, *pair), pairs, self.base)

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

    @cached_property
    def _names(self) -> dict[tuple, str]:
        """Values of a listed case to its name."""
        cases = self.study.cases or []
        listed = zip(cases, self.rows if cases else [], strict=True)
        return {values: str(case[NAME]) for case, values in listed if NAME in case}

    def wrong(self, path: tuple, message: str) -> InputError:
        """An error at a place of the study file."""
        line, column = self.source.place(path)
        key = ".".join(map(str, path))
        return InputError(self.source.path, [Problem(line, column, key, message)])

    def _runner(self) -> str | None:
        """The candidate asked for, by name or by a key of its own."""
        study = self.study
        keys = study.vary if study.cases is None else study.cases[0]
        try:
            name = runner_asked(study.runner, keys, self.candidates)
        except ValueError as error:
            self._problems += self.wrong(("runner",), str(error)).problems
            return None
        if name is None or name in self.candidates:
            return name
        said = no_such("runner", name, self.candidates, f" in {study.engine}")
        self._problems += self.wrong(("runner",), said).problems
        return None

    def _base(self) -> dict:
        """The engine file's data with the chosen runner bolted on, without its candidates."""
        if self.runner is not None:
            return self.candidates[self.runner].data
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

    def _axes(self) -> list[Axis]:
        if self.study.cases is not None:
            return self._listed_axes()
        names = short_names(list(self.study.vary))
        return self._sound(
            (self._axis, key, name, values)
            for (key, values), name in zip(self.study.vary.items(), names, strict=True)
        )

    def _sound(self, made: Iterator[Any]) -> list[Axis]:
        """The axes that can be made, (function, arguments) each; what is wrong with the others is
        told at the end."""
        axes = []
        for make, *arguments in made:
            try:
                axes.append(make(*arguments))
            except InputError as error:
                self._problems += error.problems
        return axes

    def _listed_axes(self) -> list[Axis]:
        for k, case in enumerate(required(self.study.cases)):
            if NAME in case and (reason := why_no_name(str(case[NAME]))):
                raise self.wrong(("cases", k, NAME), reason)
        cases = [{k: v for k, v in case.items() if k != NAME} for case in required(self.study.cases)]
        keys = list(cases[0])
        if not keys:
            raise self.wrong(("cases", 0), "give at least one key and its value")
        for k, case in enumerate(cases):
            if list(case) != keys:
                raise self.wrong(("cases", k), f"every case must have the keys {', '.join(keys)}")
        names = short_names(keys)
        return self._sound(
            (self._list_axis, key, name, [case[key] for case in cases], ("cases", 0, key))
            for key, name in zip(keys, names, strict=True)
        )

    def _axis(self, key: str, name: str, values: Any) -> Axis:
        path = ("vary", key)
        given = "values" if self.study.asked is None else self.study.asked[1].given
        tolerant = given == "around"
        if isinstance(values, list):
            if given != "values":
                raise self.wrong(path, "a span {from: ..., to: ...} is expected here")
            return self._list_axis(key, name, values, path)
        if tolerant != (values.plus_minus is not None):
            due = "plus_minus is expected" if tolerant else "plus_minus belongs to a tolerance study"
            raise self.wrong(path, due)
        if tolerant:
            unit, (half,) = self._numbers([values.plus_minus], path)
            if half <= 0.0:
                raise self.wrong(path, "plus_minus must be greater than 0")
            return Axis(key, name, unit, self._place(key, path), low=-half, high=half, around=True)
        return self._span_axis(key, name, values, path)

    def _span_axis(self, key: str, name: str, span: Any, path: tuple[str, str]) -> Axis:
        unit, (low, high) = self._numbers([span.start, span.stop], path)
        if not low < high:
            raise self.wrong(path, "'to' must be above 'from'")
        whole = isinstance(span.start, int) and isinstance(span.stop, int)
        needs_steps = self.study.asked is None and self.study.sample is None
        if needs_steps and span.steps is None:
            raise self.wrong(path, "steps is missing")
        values = tuple(np.linspace(low, high, span.steps)) if span.steps else ()
        return Axis(key, name, unit, self._place(key, path), values, low, high, whole)

    def _list_axis(
        self, key: str, name: str, values: Sequence[float | str], path: tuple[int | str, ...]
    ) -> Axis:
        if not values:
            raise self.wrong(path, "give at least one value")
        place = self._place(key, path)
        if all(isinstance(v, str) and not _is_number(v) for v in values):
            return Axis(key, name, "", place, tuple(values))
        unit, numbers = self._numbers(values, path)
        whole = all(isinstance(v, int) for v in values)
        return Axis(key, name, unit, place, tuple(numbers), min(numbers), max(numbers), whole)

    def _place(self, key: str, path: tuple[int | str, ...]) -> tuple[str, ...]:
        """Where a varied key stands in the engine file's data."""
        reason = why_not(key)
        try:
            found = tuple(path_of(key, self.candidates))
        except ValueError as error:
            reason = str(error)
        if reason:
            raise self.wrong(path, reason)
        return found

    def _numbers(self, values: Sequence[float | str], path: tuple[int | str, ...]) -> tuple[str, list[float]]:
        """(unit, numbers) of values that are all plain, or all text in one unit."""
        try:
            return numbers_in_one_unit(values)
        except ValueError as error:
            raise self.wrong(path, str(error)) from None

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
                    else (self._numbers([value], ("slice", key)))
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
        for key, other in overlapping({a.key: list(a.path) for a in self.axes}):
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


def _is_number(text: str) -> bool:
    try:
        split_quantity(text)
    except ValueError:
        return False
    return True
