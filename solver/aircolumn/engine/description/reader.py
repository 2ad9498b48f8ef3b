"""An engine file to a checked :class:`Description`: one engine, several candidate runners."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from aircolumn.display_units import SETS
from aircolumn.engine.description.area_schedule import KEY, as_sections, read_schedule_file, schedule_in
from aircolumn.engine.description.base import BY_CYLINDER
from aircolumn.engine.description.cross_checks import check_together
from aircolumn.engine.description.drive_log import LARGEST_LOG, ranges_in
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.fitted import FITTED, Fitted
from aircolumn.engine.description.pipes import Runner
from aircolumn.engine.description.places import si_value, singles, value_at
from aircolumn.engine.description.source import Source, problem, read_source
from aircolumn.engine.description.text_file import AsRead, read_bytes
from aircolumn.engine.description.validated import validated
from aircolumn.errors import InputError, Problem

#: Of an engine file, and of all its parts as each cylinder of each candidate has them.
MOST_RUNNERS, MOST_EXPANDED = 20, 150_000
LONGEST_NAME = 40  # characters
_SHAPE_KEYS = ("length", "bore", "sections")


@dataclass(frozen=True)
class Description:
    """A checked engine file: the engine (SI), its candidate runners by name, which of them are
    also looked at as one switchable manifold, and in which units results are shown (one of
    shown.SETS; None: not said). size: values of the file, all its parts written out. fitted: what a fit
    found, or None."""

    source: Source
    engine: Engine
    runners: dict[str, Runner]
    switchable: dict[str, list[str]] = field(default_factory=dict)
    units: str | None = None
    size: int = 0
    fitted: Fitted | None = None

    @property
    def path(self) -> Path:
        """Path of the engine file."""
        return self.source.path

    def only(self, name: str) -> "Description":
        """The same file with the candidate ``name`` alone."""
        return replace(self, runners={name: self.runners[name]}, switchable={})

    def with_runner(self, name: str) -> Engine:
        """The engine with the candidate ``name`` bolted on."""
        return self.engine.with_intake(runner=self.runners[name])


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


def is_study(path: Path) -> bool:
    """Whether a file is a study file: it names an engine file. Raises InputError as load."""
    return _names_an_engine(read_source(path))


def _names_an_engine(source: Source) -> bool:
    return isinstance(source.data, dict) and isinstance(source.data.get("engine"), str)


def described(source: Source) -> Description:
    """Check the data of an engine file. Raises InputError listing every problem found."""
    problems: list[Problem] = []
    if _names_an_engine(source):
        said = "this is a study file (it names an engine file); run it with: aircolumn study"
        raise InputError(source.path, [problem(source, ("engine",), said)])
    data, room = _with_schedules(source.data, source, problems, (), {}), _Room(source)
    candidates, manifolds = data.pop("runners", None), data.pop("switchable", None)
    units = _units(data.pop("units", None), source, problems)
    fitted = _fitted(data.pop(FITTED, None), source, problems)
    data = _with_drive_log(data, source)
    engine = validated(Engine, filled_in(data, room), source, problems, ())
    runners = _candidates(data, candidates, source, problems, room)
    switchable = _switchable(manifolds, candidates, source, problems)
    problems += _wrong_spreads(source)
    if engine is not None and not problems:
        problems += check_together(engine, runners, source)
    if problems:
        raise InputError(source.path, problems)
    return Description(source, engine, runners, switchable, units, MOST_EXPANDED - room.left, fitted)


def _units(name: str | None, source: Source, problems: list[Problem]) -> str | None:
    """The units in which the file wants its results shown."""
    if name is not None and name not in SETS:
        said = f"'{str(name)[:40]}' is not known here; use {' or '.join(SETS)}"
        problems.append(problem(source, ("units",), said))
    return name


def _wrong_spreads(source: Source) -> list[Problem]:
    """Every plus_minus of what can have none."""
    found = []
    for path in source.spreads:
        try:
            for place, value in singles(value_at(source.data, path), path):
                if path[0] != FITTED:
                    si_value(place, value)
        except ValueError as error:
            found.append(problem(source, path, str(error)))
    return found


def _fitted(data: Any, source: Source, problems: list[Problem]) -> Fitted | None:
    """What a fit found; each value with its plus_minus."""
    if data is None:
        return None
    found = validated(Fitted, data, source, problems, (FITTED,))
    for name in found.values if found is not None else ():
        if (FITTED, name) not in source.spreads:
            said = "plus_minus is missing: {value: ..., plus_minus: ...}"
            problems.append(problem(source, (FITTED, name), said))
    return found


def _with_schedules(
    data: Any, source: Source, problems: list[Problem], path: tuple[int | str, ...], read: dict[str, Any]
) -> Any:
    """``data`` with every area schedule replaced by the sections its file holds; ``read``: those of
    the files seen before, by name."""
    if isinstance(data, list):
        return [_with_schedules(v, source, problems, (*path, i), read) for i, v in enumerate(data)]
    if not isinstance(data, dict):
        return data
    result = {
        key: _with_schedules(value, source, problems, (*path, key), read)
        for key, value in data.items()
        if key != KEY
    }
    name = data.get(KEY)
    if isinstance(name, str) and not any(key in data for key in _SHAPE_KEYS):
        if name not in read:
            if name not in source.beside:
                source.beside[name] = read_schedule_file(source.path.parent / name)
            read[name] = as_sections(schedule_in(source.beside[name]))
        result["sections"] = read[name]
    elif KEY in data:
        message = "a CSV file's name is expected here, and no length, bore or sections beside it"
        problems.append(problem(source, (*path, KEY), message))
    return result


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


class _Room:
    """How many more values the parts of all cylinders and candidates may have."""

    def __init__(self, source: Source) -> None:
        self.source, self.left = source, MOST_EXPANDED

    def take(self, count: int) -> None:
        """Raises InputError if there are no more."""
        self.left -= count
        if self.left < 0:
            said = (
                f"more than {MOST_EXPANDED} values once area schedules, by_cylinder and runners"
                " are written out; leave some out"
            )
            raise InputError(self.source.path, [problem(self.source, (), said)])


def _candidates(
    data: dict[str, Any],
    candidates: dict[str, Any] | None,
    source: Source,
    problems: list[Problem],
    room: _Room,
) -> dict[str, Runner]:
    """The runners to compare; without any, the intake's own."""
    intake = data.get("intake")
    base = intake.get("runner") if isinstance(intake, dict) else None
    if not isinstance(base, dict):
        return {}
    if candidates is None:
        runner = validated(Runner, filled_in(base, room), source, [], ())
        return {"runner": runner} if runner else {}
    if not isinstance(candidates, dict) or not candidates:
        problems.append(problem(source, ("runners",), "give at least one 'name: {...}' here"))
        return {}
    if len(candidates) > MOST_RUNNERS:
        said = f"{len(candidates)} runners; at most {MOST_RUNNERS} (a study takes more)"
        problems.append(problem(source, ("runners",), said))
        return {}
    if validated(Runner, filled_in(base, room), source, [], ()) is None:
        return {}  # told once, where it stands
    runners = {}
    for name, changes in candidates.items():
        path = ("runners", name)
        if not isinstance(changes, dict):
            problems.append(problem(source, path, "the runner's keys are expected here"))
            continue
        if reason := why_no_name(name):
            problems.append(problem(source, path, reason))
            continue
        merged = filled_in(changed_runner(base, changes), room)
        runner = validated(Runner, merged, source, problems, path)
        if runner is not None:
            runners[name] = runner
    return runners


def _switchable(
    manifolds: Sequence[str] | dict[str, Any] | None,
    candidates: dict[str, Any] | None,
    source: Source,
    problems: list[Problem],
) -> dict[str, list[str]]:
    """Manifolds that change over between candidates, by name."""
    if manifolds is None:
        return {}
    if not isinstance(manifolds, dict) or not manifolds:
        problems.append(problem(source, ("switchable",), "give 'name: [runner, runner]' here"))
        return {}
    known = list(candidates) if isinstance(candidates, dict) else []
    for name, runners in manifolds.items():
        path, listed = ("switchable", name), isinstance(runners, list)
        if reason := why_no_name(name):
            problems.append(problem(source, path, reason))
        elif name in known:
            problems.append(problem(source, path, "a runner has this name already"))
        elif not listed or len(runners) < 2 or len({str(r) for r in runners}) < len(runners):
            problems.append(problem(source, path, "a list of two or more runners is expected here"))
        elif strange := [str(r) for r in runners if r not in known]:
            message = (
                f"no runner '{strange[0][:LONGEST_NAME]}' under runners; there are:"
                f" {', '.join(known[:MOST_RUNNERS])}"
            )
            problems.append(problem(source, path, message))
    return manifolds


def why_no_name(name: str) -> str:
    """Why ``name`` cannot be that of a runner, a switchable manifold or a case: it stands in file
    names and pictures; "" if it can."""
    if name.strip() and name.isprintable() and "/" not in name and len(name) <= LONGEST_NAME:
        return ""
    return (
        f"'{name[:LONGEST_NAME]}' cannot be a name: use 1 to {LONGEST_NAME} characters that can"
        " be printed, without /"
    )


def filled_in(data: Any, room: _Room) -> Any:
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
        differing = {k: changed_runner(filled, v) if isinstance(v, dict) else v for k, v in differing.items()}
    return {**filled, BY_CYLINDER: differing}


def changed_runner(base: dict, changes: dict) -> dict:
    """Keys of intake.runner with those of a candidate in their place."""
    merged = dict(base)
    if "sections" in changes:
        merged = {k: v for k, v in base.items() if k not in _SHAPE_KEYS}
    elif "sections" in base and any(k in changes for k in _SHAPE_KEYS):
        merged = {k: v for k, v in base.items() if k != "sections"}
    if "length" in changes or "sections" in changes:  # one length for all cylinders
        merged.pop("lengths", None)
        if isinstance(merged.get(BY_CYLINDER), dict):
            merged[BY_CYLINDER] = {k: _without_shape(v) for k, v in merged[BY_CYLINDER].items()}
    return {**merged, **changes}


def _without_shape(part: Any) -> Any:
    if not isinstance(part, dict):
        return part
    return {key: value for key, value in part.items() if key not in _SHAPE_KEYS}
