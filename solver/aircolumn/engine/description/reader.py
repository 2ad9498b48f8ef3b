"""An engine file to a checked :class:`Description`: one engine, several candidates."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from aircolumn.display_units import SETS
from aircolumn.engine.description.base import CANDIDATES, RUNNERS
from aircolumn.engine.description.candidates import (
    MOST_EXPANDED,
    Manifold,
    Reading,
    Room,
    manifolds_of,
    runners_of,
    the_only_one,
    told_there,
    why_no_name,
    with_common,
    wrong_group,
)
from aircolumn.engine.description.cross_checks import check_together
from aircolumn.engine.description.drive_log import LARGEST_LOG, ranges_in
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.fitted import FITTED, Fitted
from aircolumn.engine.description.installed import brings, with_installation
from aircolumn.engine.description.laying import with_routes, wrong_routes
from aircolumn.engine.description.pipes import Runner
from aircolumn.engine.description.places import is_stated, si_value, singles, value_at
from aircolumn.engine.description.shape_files import with_shape_files
from aircolumn.engine.description.source import Source, problem, read_source
from aircolumn.engine.description.text_file import AsRead, read_bytes
from aircolumn.engine.description.validated import validated
from aircolumn.errors import InputError, Problem, RequestError, no_such


@dataclass(frozen=True)
class Description:
    """A checked engine file: the engine (SI), its candidates by name (candidates.py), which of them are
    also looked at as one switchable manifold, and in which units results are shown (one of
    shown.SETS; None: not said). size: values of the file, all its parts written out. fitted: what a fit
    found, or None."""

    source: Source
    engine: Engine
    candidates: dict[str, Manifold]
    switchable: dict[str, list[str]] = field(default_factory=dict)
    units: str | None = None
    size: int = 0
    fitted: Fitted | None = None

    @property
    def path(self) -> Path:
        """Path of the engine file."""
        return self.source.path

    def only(self, *names: str) -> "Description":
        """The same file with these candidates alone."""
        return replace(self, candidates={name: self.candidates[name] for name in names}, switchable={})

    @property
    def runners(self) -> dict[str, Runner]:
        """The runner of every candidate."""
        return {name: one.engine.intake.runner for name, one in self.candidates.items()}

    def with_runner(self, name: str) -> Engine:
        """The engine with the candidate ``name`` bolted on. Raises RequestError if there is none."""
        if name not in self.candidates:
            raise RequestError(no_such("runner", name, self.candidates))
        return self.candidates[name].engine


def load(path: Path) -> Description:
    """Read and check an engine file.

    Parameters
    ----------
    path : str or Path
        The file (YAML).

    Returns
    -------
    Description
        Its engine (SI, angles in degrees) and its candidate runners.

    Raises
    ------
    InputError
        If anything is wrong with it; lists every problem with line, key, value and what is allowed.

    Examples
    --------
    >>> description = load("configs/rescue-four.yaml")
    >>> list(description.runners), description.engine.block.bore
    (['short', 'middle', 'long'], 0.089)
    """
    return described(read_source(path))


def side_by_side(descriptions: Sequence[Description]) -> Description:
    """Files as candidates of one, named by their files, where they have no candidates of their own; what all
    have in common is that of the first. Raises InputError for a name that stands twice."""
    first, *others = descriptions
    found: dict[str, Manifold] = {}
    for d in descriptions:
        alone = list(d.candidates) == ["runner"]
        for name, one in d.candidates.items():
            told = d.path.stem if alone else name
            if told in found:
                said = f"two candidates are called '{told}'"
                raise InputError(d.path, [problem(d.source, (), said)])
            found[told] = one if d is first else with_common(one, first.engine, first.source.data)
    for d in others:
        near = d.path.parent.absolute() == first.path.parent.absolute()  # results keep these files
        name = d.path.name if near else str(d.path.absolute())
        first.source.beside.update({name: AsRead(d.path, d.source.raw), **d.source.beside})
    return replace(first, candidates=found)


def is_study(path: Path) -> bool:
    """Whether a file is a study file: it names an engine file. Raises InputError as load."""
    return _names_an_engine(read_source(path))


def _names_an_engine(source: Source) -> bool:
    return isinstance(source.data, dict) and isinstance(source.data.get("engine"), str)


def described(source: Source) -> Description:
    """Check the data of an engine file. Raises InputError listing every problem found."""
    read = Reading(source, Room(source))
    if _names_an_engine(source):
        said = "this is a study file (it names an engine file); run it with: aircolumn study"
        raise InputError(source.path, [problem(source, ("engine",), said)])
    data = with_shape_files(source.data, source, read.problems, (), {})
    groups = {name: data.pop(name) for name in (RUNNERS, CANDIDATES) if name in data}
    manifolds = data.pop("switchable", None)
    units = _units(data.pop("units", None), read)
    fitted = _fitted(data.pop(FITTED, None), read)
    _check_rating(data, read)
    data = with_installation(_with_cell(_with_drive_log(data, source), source))
    engine = read.valid(Engine, data)
    known = next((list(g) for g in groups.values() if isinstance(g, dict)), [])
    switchable = _switchable(manifolds, known, read)
    _check_spreads(read)
    candidates = _candidates(engine, data, groups, read)
    if engine is not None and not read.problems:
        read.problems.extend(_wrong_together(engine, candidates, groups, source))
    if engine is not None and not read.problems:
        candidates = _in_space(candidates, read)
    if engine is None or read.problems:
        raise InputError(source.path, read.problems)
    engine = next((c.engine for c in candidates.values() if not groups), engine)
    return Description(source, engine, candidates, switchable, units, MOST_EXPANDED - read.room.left, fitted)


def _candidates(engine: Engine | None, data: dict, groups: dict, read: Reading) -> dict[str, Manifold]:
    """The manifolds to compare; without any, the file's own."""
    if len(groups) > 1:
        said = f"give either {RUNNERS} or {CANDIDATES}, which can change all that {RUNNERS} can"
        read.wrong((CANDIDATES,), said)
        return {}
    for name, group in groups.items():
        wrong = wrong_group(group, name, read.source)
        if wrong is not None:
            read.problems.append(wrong)
            return {}
        if name == RUNNERS:
            return runners_of(engine, data, group, read)
        if engine is None:
            return {}
        return manifolds_of(engine, data, group, read, partial(_only_one_of, read.source))
    return {} if engine is None else the_only_one(engine, data, read.source)


def _only_one_of(source: Source, name: str) -> Manifold:
    """The engine of another file, which has no candidates of its own. Raises InputError."""
    other = described(read_source(source.path.parent / name))
    if len(other.candidates) > 1 or "runner" not in other.candidates:
        said = "this file is a candidate of another and can have none of its own"
        raise InputError(other.path, [problem(other.source, (), said)])
    source.beside[name] = AsRead(other.path, other.source.raw)
    source.beside.update(other.source.beside)
    return other.candidates["runner"]


def _wrong_together(
    engine: Engine, candidates: dict[str, Manifold], groups: dict, source: Source
) -> list[Problem]:
    """Checks that need more than one group of keys, of the file's engine and of every candidate."""
    if CANDIDATES not in groups:
        return check_together(engine, {n: c.engine.intake.runner for n, c in candidates.items()}, source)
    found = []
    for name, one in candidates.items():
        there = told_there(source, one.own)
        found += check_together(one.engine, {name: one.engine.intake.runner}, there)
    return list(dict.fromkeys(found))


def _in_space(candidates: dict[str, Manifold], read: Reading) -> dict[str, Manifold]:
    """The candidates with their routes, laid where the file's space says so."""
    found = {}
    for name, one in candidates.items():
        engine = one.engine
        try:
            engine = with_routes(engine)
            faults = wrong_routes(engine)
        except ValueError as error:
            faults = [str(error)]
        found[name] = replace(one, engine=engine)
        if not faults:
            continue
        there = told_there(read.source, one.own)
        keys = [k for k in ("route", "length") if value_at(one.data, ("intake", "runner", k)) is not None]
        place = ("intake", "runner", *keys[:1])
        own = "" if len(candidates) == 1 else f"{name}: "
        read.problems.extend(problem(there, place, f"{own}{said}") for said in faults)
    return found


def _units(name: str | None, read: Reading) -> str | None:
    """The units in which the file wants its results shown."""
    if name is not None and name not in SETS:
        said = f"'{str(name)[:40]}' is not known here; use {' or '.join(SETS)}"
        read.wrong(("units",), said)
    return name


def _check_spreads(read: Reading) -> None:
    """No plus_minus of what can have none."""
    for path in read.source.spreads:
        try:
            for place, value in singles(value_at(read.source.data, path), path):
                if path[0] != FITTED:
                    si_value(place, value)
        except ValueError as error:
            read.wrong(path, str(error))


def _fitted(data: Any, read: Reading) -> Fitted | None:
    """What a fit found; each value with its plus_minus."""
    if data is None:
        return None
    found = validated(Fitted, data, read.source, read.problems, (FITTED,))
    for name in found.values if found is not None else ():
        if (FITTED, name) not in read.source.spreads:
            read.wrong((FITTED, name), "plus_minus is missing: {value: ..., plus_minus: ...}")
    return found


def _check_rating(data: dict, read: Reading) -> None:
    """Not the air of a rating and air of the file's own."""
    path = ("intake", "ambient")
    if data.get("rating") is None or not is_stated(data, path):
        return
    if value_at(data, path) != brings(data).get(path):  # else read once before, as the data of a case
        read.wrong(("rating",), "a rating brings its standard's air: leave out intake.ambient, or the rating")


def _with_drive_log(data: dict, source: Source) -> dict:
    """``data`` with the ranges that a logged drive holds (speeds.use.log). Raises InputError."""
    speeds: Any = data.get("speeds")
    use: Any = speeds.get("use") if isinstance(speeds, dict) else None
    name = use.get("log") if isinstance(use, dict) else None
    if not isinstance(name, str) or "ranges" in use:
        return data
    if name not in source.beside:
        path = source.path.parent / name
        source.beside[name] = AsRead(path, read_bytes(path, LARGEST_LOG))
    column = use.get("column") if isinstance(use.get("column"), str) else None
    use = {**use, "ranges": ranges_in(source.beside[name], column)}
    return {**data, "speeds": {**speeds, "use": use}}


def _with_cell(data: dict, source: Source) -> dict:
    """``data`` with the columns that a test cell's file states (pull.columns). Raises InputError."""
    pull: Any = data.get("pull")
    name = pull.get("columns") if isinstance(pull, dict) else None
    if not isinstance(name, str):
        return data
    other = read_source(source.path.parent / name)
    columns = other.data.get("columns")
    if set(other.data) != {"columns"} or not isinstance(columns, dict):
        raise InputError(other.path, [problem(other, (), "one group 'columns:' is expected here")])
    source.beside[name] = AsRead(other.path, other.raw)
    return {**data, "pull": {**pull, "columns": columns}}


def _switchable(
    manifolds: Sequence[str] | dict[str, Any] | None, known: Sequence[str], read: Reading
) -> dict[str, list[str]]:
    """Manifolds that change over between candidates, by name."""
    if manifolds is None:
        return {}
    if not isinstance(manifolds, dict) or not manifolds:
        read.wrong(("switchable",), "give 'name: [runner, runner]' here")
        return {}
    for name, runners in manifolds.items():
        path, listed = ("switchable", name), isinstance(runners, list)
        if reason := why_no_name(name):
            read.wrong(path, reason)
        elif name in known:
            read.wrong(path, "a runner has this name already")
        elif not listed or len(runners) < 2 or len({str(r) for r in runners}) < len(runners):
            read.wrong(path, "a list of two or more runners is expected here")
        elif strange := [str(r) for r in runners if r not in known]:
            read.wrong(path, no_such("runner", strange[0], known, " under runners"))
    return manifolds
