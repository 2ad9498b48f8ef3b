"""What a search must keep to, in the words of the trade: torque and power, the valves' and the port's speed
of flow, length and mass of the runner; as a figure, or as a share of what a candidate has."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any, Literal, Self

import numpy as np
from pydantic import model_validator

from aircolumn.display_units import percent, unit
from aircolumn.engine.description.base import required
from aircolumn.engine.description.units import to_si
from aircolumn.engine.model.breathing import gas_velocity, mach_index
from aircolumn.engine.model.piping import wall_volume
from aircolumn.errors import RequestError, no_such
from aircolumn.questions.aims import KINDS, AimName, OfCurve, check_aim, value_of
from aircolumn.study.models import Plain

if TYPE_CHECKING:
    from aircolumn.curves.interest import Range
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.questions.search.known import Design
    from aircolumn.study.plan import Plan


def _runner_mass(engine: Engine, _: float) -> float:
    """Of one runner's wall, kg, without flanges."""
    part = engine.part
    return wall_volume(engine.intake.runner, part.wall) * required(part.density)


def _runner_length(engine: Engine, _: float) -> float:
    return engine.intake.runner.total_length


#: figures of an engine that no curve is needed for: of (engine, rev/min)
OF_ENGINE: dict[str, Callable[[Engine, float], float]] = {
    "mach_index": mach_index,
    "gas_velocity": gas_velocity,
    "runner_length": _runner_length,
    "runner_mass": _runner_mass,
}
AT_A_SPEED = ("mach_index", "gas_velocity")
#: kind of quantity as it is shown, and as it is read
SHOWN = {
    **KINDS,
    "mach_index": "number",
    "gas_velocity": "velocity",
    "runner_length": "length",
    "runner_mass": "part mass",
}
READ = {**SHOWN, "runner_mass": "mass"}
LimitName = Literal[AimName, "mach_index", "gas_velocity", "runner_length", "runner_mass"]
OF_CANDIDATE = re.compile(r"\s*(.+?)\s+of\s+(.+?)\s*")
WORDS = {"mach_index": "Mach index", "runner_mass": "mass of a runner"}


@dataclass(frozen=True)
class Bound:
    """A figure, SI; or the share of what the candidate ``of`` has."""

    value: float
    of: str | None = None


class Limit(OfCurve):
    """What a figure must be at least, or at most: 205 N m, or 97 % of stock."""

    of: LimitName = "torque"
    at_least: Plain | None = None
    at_most: Plain | None = None

    @model_validator(mode="after")
    def _one_bound(self) -> Self:
        if (self.at_least is None) == (self.at_most is None):
            raise ValueError("give at_least or at_most")
        if self.of in OF_ENGINE and self.of not in AT_A_SPEED and self.at is not None:
            raise ValueError(f"{self.of} is the same at every speed: leave out 'at'")
        _ = self.bound
        return self

    @property
    def least(self) -> bool:
        """Whether it is a lower limit."""
        return self.at_least is not None

    @property
    def bound(self) -> Bound:
        """What is asked. Raises ValueError if it is no such quantity."""
        key = "at_least" if self.least else "at_most"
        value = getattr(self, key)
        try:
            if isinstance(value, str) and (named := OF_CANDIDATE.fullmatch(value)):
                return Bound(to_si(named[1], "share"), named[2])
            if READ[self.of] == "number" and not isinstance(value, str):
                return Bound(float(value))
            return Bound(to_si(value, READ[self.of] if READ[self.of] != "number" else "share"))
        except ValueError as error:
            raise ValueError(f"{key}: {error}, or a share: 97 % of a candidate") from None

    @property
    def words(self) -> str:
        """The figure in words."""
        name = WORDS.get(self.of, self.of.replace("_", " "))
        if self.of in OF_ENGINE:
            return f"{name} at {self.at:.0f} rpm" if self.at is not None else name
        return super().words

    def asked_words(self, level: float) -> str:
        """What is asked, with the figure that it comes to."""
        bound, way = self.bound, "at least" if self.least else "at most"
        if bound.of is None:
            return f"{way} {said(self, level)}"
        return f"{way} {percent(bound.value)} of {bound.of}, {said(self, level)}"

    def margin(self, value: float, level: float) -> float:
        """By how much it is kept, SI; negative if it is broken."""
        return value - level if self.least else level - value

    def value(self, engine: Engine | None, rpm: np.ndarray, torque: np.ndarray) -> float:
        """The figure of an engine with this torque curve (rev/min, N m), SI."""
        if self.of not in OF_ENGINE:
            return value_of(self, rpm, torque)
        return np.nan if engine is None else OF_ENGINE[self.of](engine, self.at or 0.0)


def said(limit: OfCurve, value: float) -> str:
    """A value of a figure with its unit."""
    own = unit(SHOWN[limit.of])
    if own.name:
        return own.said(value)
    return f"{float(own.of(value)):.3f}"


def broken_words(limits: Sequence[Limit], design: Design) -> str:
    """The limit that a design breaks most, what it has and what is asked."""
    k = int(np.argmax(design.shortfalls))
    limit = limits[k]
    return f"{limit.words} {said(limit, design.figures[k])}, {limit.asked_words(design.levels[k])}"


def checked_limits(plan: Plan, limits: Iterable[Limit], span: Range | None) -> list[Limit]:
    """The limits with what they leave out filled in. Raises RequestError for what a study cannot keep to."""
    found = []
    for one in limits:
        limit = one.changed(at=float(plan.speeds[-1])) if one.of in AT_A_SPEED and one.at is None else one
        bound = limit.bound
        if bound.of is not None and bound.of not in plan.candidates:
            raise RequestError(f"limits: {no_such('runner', bound.of, plan.candidates)}")
        if limit.of == "runner_mass" and plan.engine.part.density is None:
            raise RequestError("limits: runner_mass needs part.density in the engine file")
        found.append(check_aim(limit, plan.speeds, span))
    _check_together(found)
    return found


def _check_together(limits: Sequence[Limit]) -> None:
    """Limits that no engine keeps both of. Raises RequestError."""
    for a, b in combinations([limit for limit in limits if limit.bound.of is None], 2):
        low, high = (a, b) if a.least else (b, a)
        if low.least == high.least:
            continue
        least, most = _as_torque(low), _as_torque(high)
        same = low.of == high.of and least[0] == most[0]
        beyond = high.of == "peak_torque" and low.of in ("torque", "mean_torque", "least_torque")
        at_once = {low.of, high.of} <= {"torque", "power"} and low.at == high.at
        if (same or beyond or at_once) and least[1] > most[1]:
            raise RequestError(
                f"limits: no engine keeps both: {low.words} at least {said(low, low.bound.value)} and"
                f" {high.words} at most {said(high, high.bound.value)}"
            )


def _as_torque(limit: Limit) -> tuple[Any, float]:
    """(speeds it is about, its bound): of power at a speed the torque that gives it."""
    value = limit.bound.value
    if limit.of == "power":
        value *= 30.0 / (np.pi * required(limit.at))
    return (limit.at, limit.start, limit.stop), value
