"""What the functions of the public interface are given: an engine, or what was read from a file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.engine.description.engine_file import Engine
from aircolumn.errors import RequestError

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description


def engine_of(given: Engine | Description) -> Engine:
    """The engine, with the runner of the file where a Description is given. Raises RequestError for anything
    else."""
    engine = getattr(given, "engine", given)
    if not isinstance(engine, Engine):
        raise RequestError(f"an Engine or a Description (aircolumn.load) is expected, not {_kind(given)}")
    return engine


def description_of(given: Any, why: str) -> Description:
    """What is given, if it is a Description. Raises RequestError that says ``why`` an engine will not do."""
    if not isinstance(getattr(given, "engine", None), Engine):
        raise RequestError(f"a Description (aircolumn.load) is expected, not {_kind(given)}: {why}")
    return given


def check_speeds(speeds: Any) -> np.ndarray:
    """Speeds as a rising array. Raises RequestError for anything an engine cannot turn at."""
    values = np.atleast_1d(np.asarray(speeds, dtype=float))
    if values.size == 0 or not np.all(np.isfinite(values)):
        raise RequestError("give at least one finite engine speed in rpm")
    if np.any(values < 100.0) or np.any(values > 30000.0):
        raise RequestError("engine speeds must be from 100 to 30000 rpm")
    return np.unique(values)


def one_speed(rpm: float) -> float:
    """The same of one speed."""
    (speed,) = check_speeds(float(rpm))
    return float(speed)


def _kind(given: Any) -> str:
    name = type(given).__name__
    return f"{'an' if name[0] in 'AEIOUaeiou' else 'a'} {name}"
