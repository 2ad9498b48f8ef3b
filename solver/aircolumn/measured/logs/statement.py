"""Whether torque in a log is as measured or corrected, and by which standard.

A factor of correction that a log holds is compared with what each standard gives for the weather in the same
log: one that lies within MATCH (and the rounding of the logged figures) names the standard. Exports that show
the factor beside torque show the torque with that factor in it (common practice, no source), unless their
headings, or power against torque, say otherwise; so the factor is taken out again, row by row, whatever the
standard. Only what nothing in a log speaks of is taken as observed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aircolumn.engine.description.base import required
from aircolumn.measured.atmosphere import OBSERVED, STANDARDS, Atmosphere, factor

BY_FACTOR = "factor"  # corrected by the factors that the log holds
MATCH = 0.003  # relative, of a standard's factor to the log's
NO_MATTER = 5e-4  # a factor so near 1 corrects nothing
APART = 0.005  # of a named standard's factor and the log's: the log's own is taken
COARSE = 0.004  # steps of a rounded factor from which a standard's formula is the better figure
USUAL_HUMIDITY = 0.4
WHAT_TO_STATE = f"state pull.stated in the engine file ({OBSERVED}, {', '.join(STANDARDS)} or {BY_FACTOR})"


@dataclass(frozen=True)
class Statement:
    """by: OBSERVED, a key of STANDARDS, or BY_FACTOR; why: the sentence that says so; sure: whether the log
    or the engine file says it (else it follows from the figures, or from silence)."""

    by: str
    why: str
    sure: bool = True

    @property
    def title(self) -> str:
        """How torque is stated, in words."""
        if self.by == OBSERVED:
            return OBSERVED
        if self.by == BY_FACTOR:
            return "corrected by the log's own factor"
        return f"corrected to {STANDARDS[self.by].title}"


@dataclass(frozen=True)
class Evidence:
    """What a log says of its torque.

    says_corrected, says_observed: its heading, a line above or its power; standard: named with it ("?": one
    that has no formula here); where: the heading or line; factors: of correction, one a row (None: none);
    column: how they are headed; air: weather of the rows, None where pressure or temperature is not known;
    humid: whether humidity is."""

    says_corrected: bool = False
    says_observed: bool = False
    standard: str = ""
    where: str = ""
    factors: np.ndarray | None = None
    column: str = ""
    air: Atmosphere | None = None
    humid: bool = True


class Untold(ValueError):
    """The log speaks of a correction, but not of which."""


def statement(e: Evidence, stated: str | None) -> Statement:
    """How torque is stated. stated: by the engine file. Raises Untold."""
    if stated is not None:
        return _stated(e, stated)
    if e.says_observed:
        return Statement(OBSERVED, f"torque is observed: so says {e.where}")
    if e.factors is not None:
        return _by_factors(e)
    if e.standard in STANDARDS:
        return Statement(
            e.standard, f"torque is corrected to {STANDARDS[e.standard].title}: so says {e.where}"
        )
    if e.says_corrected:
        which = "by a standard that has no formula here" if e.standard == "?" else "but not by which standard"
        raise Untold(f"{e.where} says that torque is corrected, {which}; {WHAT_TO_STATE}")
    return Statement(
        OBSERVED, "torque is taken as observed: nothing in the log speaks of a correction", False
    )


def _stated(e: Evidence, stated: str) -> Statement:
    if stated == BY_FACTOR and e.factors is None:
        raise Untold("pull.stated is 'factor', but the log holds no factor of correction")
    said = Statement(stated, "").title
    text = f"torque is {said}: so states the engine file (pull.stated)"
    if e.factors is not None and stated in STANDARDS and e.air is not None:
        own, due = float(np.nanmedian(e.factors)), float(np.median(factor(stated, e.air)))
        if abs(own / due - 1.0) > APART:
            text += f"; but {e.column} is {own:.4g} and {STANDARDS[stated].title} gives {due:.4f} here"
    if stated == OBSERVED and (e.says_corrected or e.standard):
        text += f"; but {e.where} speaks of a correction"
    return Statement(stated, text)


def _by_factors(e: Evidence) -> Statement:
    factors = np.asarray(e.factors, dtype=float)
    own = float(np.nanmedian(factors))
    if np.nanmax(np.abs(factors - 1.0)) < NO_MATTER:
        return Statement(OBSERVED, f"torque is observed: {e.column} is 1 in every row")
    match = matching(e, own, _rounding(factors))
    told = f"{e.column} ({own:.4g})"
    if e.standard in STANDARDS or match:
        name = e.standard if e.standard in STANDARDS else match[0]
        title = STANDARDS[name].title
        due = _due(name, e)
        gives = "" if due is None else f" ({due:.4f} for the weather in the log)"
        if match and name in match:
            by = name if _rounding(factors) >= COARSE else BY_FACTOR
            near = "as named" if name == e.standard else "which is nearest to that of"
            return Statement(by, f"torque is taken as corrected by {told}, {near} {title}{gives}")
        return Statement(
            BY_FACTOR,
            f"torque is taken as corrected by {told}; {title} is named, but gives another factor{gives}"
            if gives
            else f"torque is taken as corrected by {told}, named as {title}",
        )
    if e.says_corrected:
        return Statement(BY_FACTOR, f"torque is taken as corrected by {told}: {e.where} says corrected")
    raise Untold(
        f"{told} speaks of a correction, but it cannot be told whether torque has it: {_no_match(e)}; if"
        f" torque is as measured, state pull.stated: {OBSERVED} in the engine file, if it is corrected by"
        f" this column, {BY_FACTOR}"
    )


def matching(e: Evidence, own: float, rounding: float) -> list[str]:
    """Standards whose factor for the log's weather is the log's, the nearest first."""
    if e.air is None:
        return []
    off = {name: _off(name, e, own) for name in STANDARDS}
    near = [name for name, away in off.items() if away <= MATCH + 0.5 * rounding]
    return sorted(near, key=lambda name: off[name])


def _off(name: str, e: Evidence, own: float) -> float:
    """How far a factor is from a standard's, relative; where humidity is not known, from the nearest
    possible."""
    due = required(_due(name, e))
    if e.humid:
        return abs(own / due - 1.0)
    ends = [required(_due(name, e, humidity)) for humidity in (0.0, 1.0)]
    return float(max(min(ends) / own - 1.0, own / max(ends) - 1.0, 0.0)) + 0.1 * abs(own / due - 1.0)


def _due(name: str, e: Evidence, humidity: float | None = None) -> float | None:
    """A standard's factor for the log's weather."""
    if e.air is None:
        return None
    air = e.air if humidity is None else Atmosphere(e.air.pressure, e.air.temperature, humidity)
    return float(np.nanmedian(factor(name, air)))


def _rounding(values: np.ndarray) -> float:
    """The step to which figures are rounded: 0.01, 0.001 or less."""
    there = values[np.isfinite(values)]
    for step in (0.01, 0.001):
        if np.allclose(there / step, np.round(there / step), atol=1e-6):
            return step
    return 1e-4


def _no_match(e: Evidence) -> str:
    if e.air is None:
        return "without barometer and inlet temperature in the log no standard can be compared with it"
    due = ", ".join(f"{s.title} {_due(name, e):.4f}" for name, s in STANDARDS.items())
    return f"for the weather in the log the standards give {due}"
