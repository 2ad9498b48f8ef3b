"""The varied keys of a study file: which values each takes, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.engine.description.candidates import why_no_name
from aircolumn.engine.description.units import split_quantity
from aircolumn.errors import InputError, Problem
from aircolumn.study.axes import RUNNER, Axis, numbers_in_one_unit, short_names
from aircolumn.study.varied import candidate_of, why_not

if TYPE_CHECKING:
    from aircolumn.engine.description.source import Source
    from aircolumn.study.models import StudyFile

NAME = "name"  # of a listed case; no key of the engine file stands so high up


def wrong_at(source: Source, path: tuple, message: str) -> InputError:
    """An error at a place of the study file."""
    line, column = source.place(path)
    return InputError(source.path, [Problem(line, column, ".".join(map(str, path)), message)])


class AxisReader:
    """Reads the varied keys of a study. problems: what is wrong is added here; several: whether the study is
    about more candidates than one, so that a candidate's own keys matter only with it."""

    def __init__(
        self,
        source: Source,
        study: StudyFile,
        candidates: Collection[str],
        problems: list[Problem],
        several: bool,
    ) -> None:
        self.source, self.study, self.candidates = source, study, candidates
        self._problems, self.several = problems, several

    def axes(self) -> list[Axis]:
        """The varied keys that can be read."""
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
                raise wrong_at(self.source, ("cases", k, NAME), reason)
        cases = [{k: v for k, v in case.items() if k != NAME} for case in required(self.study.cases)]
        keys = list(cases[0])
        if not keys:
            raise wrong_at(self.source, ("cases", 0), "give at least one key and its value")
        for k, case in enumerate(cases):
            if list(case) != keys:
                raise wrong_at(self.source, ("cases", k), f"every case must have the keys {', '.join(keys)}")
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
            if given not in ("values", "sizes"):
                raise wrong_at(self.source, path, "a span {from: ..., to: ...} is expected here")
            axis = self._list_axis(key, name, values, path)
            return self._chosen_among(axis, path) if given == "sizes" else axis
        if tolerant != (values.plus_minus is not None):
            due = "plus_minus is expected" if tolerant else "plus_minus belongs to a tolerance study"
            raise wrong_at(self.source, path, due)
        if tolerant:
            unit, (half,) = self.numbers([values.plus_minus], path)
            if half <= 0.0:
                raise wrong_at(self.source, path, "plus_minus must be greater than 0")
            place, owner = self._place(key, path)
            return Axis(key, name, unit, place, low=-half, high=half, around=True, owner=owner)
        return self._span_axis(key, name, values, path)

    def _span_axis(self, key: str, name: str, span: Any, path: tuple[str, str]) -> Axis:
        unit, (low, high) = self.numbers([span.start, span.stop], path)
        if not low < high:
            raise wrong_at(self.source, path, "'to' must be above 'from'")
        whole = isinstance(span.start, int) and isinstance(span.stop, int)
        needs_steps = self.study.asked is None and self.study.sample is None
        if needs_steps and span.steps is None:
            raise wrong_at(self.source, path, "steps is missing")
        values = tuple(np.linspace(low, high, span.steps)) if span.steps else ()
        place, owner = self._place(key, path)
        return Axis(key, name, unit, place, values, low, high, whole, owner=owner)

    def _chosen_among(self, axis: Axis, path: tuple[str, str]) -> Axis:
        """Values that a search chooses among, sizes in rising order."""
        if len(set(axis.values)) < 2:
            raise wrong_at(
                self.source, path, "give two or more values to choose among, or a span {from: ..., to: ...}"
            )
        return axis if axis.in_words else replace(axis, values=tuple(sorted(axis.values)))

    def _list_axis(
        self, key: str, name: str, values: Sequence[float | str], path: tuple[int | str, ...]
    ) -> Axis:
        if not values:
            raise wrong_at(self.source, path, "give at least one value")
        if key == RUNNER:
            return Axis(key, name, "", (), tuple(map(str, values)))
        place, owner = self._place(key, path)
        if all(isinstance(v, str) and not _is_number(v) for v in values):
            return Axis(key, name, "", place, tuple(values), owner=owner)
        unit, numbers = self.numbers(values, path)
        whole = all(isinstance(v, int) for v in values)
        low, high = min(numbers), max(numbers)
        return Axis(key, name, unit, place, tuple(numbers), low, high, whole, owner=owner)

    def _place(self, key: str, path: tuple[int | str, ...]) -> tuple[tuple[str, ...], str | None]:
        """Where a varied key stands in the engine file's data, and the candidate it is of where the study is
        about several."""
        reason = "" if key != RUNNER else "name candidates here: runner: [one, other]"
        reason, owner, place = reason or why_not(key), None, ""
        try:
            owner, place = candidate_of(key, self.candidates)
        except ValueError as error:
            reason = str(error)
        if reason:
            raise wrong_at(self.source, path, reason)
        return tuple(place.split(".")), owner if self.several else None

    def numbers(self, values: Sequence[float | str], path: tuple[int | str, ...]) -> tuple[str, list[float]]:
        """(unit, numbers) of values that are all plain, or all text in one unit. Raises InputError."""
        try:
            return numbers_in_one_unit(values)
        except ValueError as error:
            raise wrong_at(self.source, path, str(error)) from None


def _is_number(text: str) -> bool:
    try:
        split_quantity(text)
    except ValueError:
        return False
    return True
