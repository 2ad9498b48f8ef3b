"""What explains the difference between measured traces and the model's: each cause tried by itself.

A cause of the engine is tried by the straight line from a small change, then marched there, and once more
from what that leaves: large changes are no straight lines. Where the runner rings at another note than the
model's, length and temperature are also tried where the model would ring as measured. Top dead centre is
turned, gains and levels are exact by themselves. Uneven speed, which a mark once a turn cannot show, is a
Fourier series of the angle's error that is nothing at the marks: of the angle th from mark to mark,

    a1 sin(th/2) + a2 sin(th) + a3 sin(3 th/2) + a4 sin(2 th) + b1 (1 - cos th) + b2 (1 - cos 2 th)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize_scalar

from aircolumn.measured.traces.causes import (
    CAUSES,
    GAIN,
    IN_CYLINDER,
    OF_CHANNELS,
    PEG,
    TDC,
    at_least,
    cause_of,
)
from aircolumn.measured.traces.compare import Ringing, ringing
from aircolumn.measured.traces.cycles import AT
from aircolumn.measured.traces.predicted import slope, turned

if TYPE_CHECKING:
    from aircolumn.measured.traces.fit import TraceProblem
    from aircolumn.measured.traces.predicted import Predicted

UNEVEN = "uneven"
RINGS = ("runner", "port")
RINGING = ("length", "temperature")  # what changes the note
ANOTHER_NOTE = 0.01  # relative
LEAST_SHARE = 0.01  # of the difference: causes that explain less are not told
WORTH = 0.02  # share by the straight line, from which a cause is marched
FURTHEST = 2.0  # times what is plausible
MOST_TURNED = 20.0  # deg
ENOUGH = 0.9  # of the difference: a cause that leaves more is not alone


@dataclass(frozen=True)
class Explained:
    """A cause by itself (of causes.py, or UNEVEN): share of the weighted squares of the difference that it
    explains, and the value at which it does, SI; levels are taken together (value: 0), and of uneven speed
    the largest error of the angle, deg."""

    cause: str
    share: float
    value: float


def explained(problem: TraceProblem, base: Predicted, notes: Mapping[str, Ringing]) -> list[Explained]:
    """Each cause tried by itself, the most telling first; notes: what channels ring at, by name."""
    difference = problem.cycles.mean - base.signals
    whole = _squares(problem, difference)
    if whole <= 0.0:
        return []
    found = [
        *_of_engine(problem, base, difference, whole, notes),
        _turned(problem, base, whole),
        *_of_channels(problem, base, difference, whole),
    ]
    if problem.cycles.marks_at is not None:
        found.append(_uneven(problem, base, difference, whole, problem.cycles.marks_at))
    return sorted((f for f in found if f.share >= LEAST_SHARE), key=lambda f: -f.share)


def notes_of(problem: TraceProblem, model: Predicted) -> dict[str, Ringing]:
    """What the channels in runner and port ring at, by name."""
    found = {}
    for k, (name, channel) in enumerate(problem.channels.items()):
        one = None
        if channel.place in RINGS:
            one = ringing(problem.cycles.mean[k], model.signals[k], model.events, problem.rpm)
        if one is not None:
            found[name] = one
    return found


def first_values(
    problem: TraceProblem, base: Predicted, notes: Mapping[str, Ringing], causes: list[str]
) -> dict[str, float]:
    """Where a fit begins: the first of RINGING in ``causes`` where the model would ring as measured."""
    name = next((n for n in RINGING if n in causes), None)
    if name is None:
        return {}
    (moved,) = problem.models([{name: CAUSES[name].neutral + CAUSES[name].step}])
    at = _at_the_note(problem, base, moved, notes, name)
    return {} if at is None else {name: at}


def _squares(problem: TraceProblem, difference: np.ndarray) -> float:
    return float(np.sum((difference * problem.weights) ** 2))


def _along(problem: TraceProblem, column: np.ndarray, difference: np.ndarray) -> float:
    """How many times ``column`` comes nearest to ``difference``."""
    weighted = column * problem.weights
    size = float(np.sum(weighted**2))
    return float(np.sum(weighted * difference * problem.weights)) / size if size > 0.0 else 0.0


def _of_engine(
    problem: TraceProblem,
    base: Predicted,
    difference: np.ndarray,
    whole: float,
    notes: Mapping[str, Ringing],
) -> list[Explained]:
    """Causes that change the model."""
    cylinder = any(c.place == "cylinder" for c in problem.channels.values())
    names = [n for n, c in CAUSES.items() if c.apply is not None and (cylinder or n not in IN_CYLINDER)]
    moved = problem.models([{n: CAUSES[n].neutral + CAUSES[n].step} for n in names])
    best, tried = {}, []
    for name, model in zip(names, moved, strict=True):
        cause = CAUSES[name]
        column = (model.signals - base.signals) / cause.step
        by = _along(problem, column, difference)
        share = 1.0 - _squares(problem, difference - by * column) / whole
        best[name] = Explained(name, share, cause.neutral + by)
        if share > WORTH:
            tried.append((name, _bounded(name, cause.neutral + by)))
        at = _at_the_note(problem, base, model, notes, name) if name in RINGING else None
        if at is not None:
            tried.append((name, _bounded(name, at)))
    marched: dict[str, Explained] = {}
    for _ in range(2):
        models = problem.models([{n: v} for n, v in tried])
        again = []
        for (name, value), model in zip(tried, models, strict=True):
            left = problem.cycles.mean - model.signals
            one = Explained(name, 1.0 - _squares(problem, left) / whole, value)
            marched[name] = max(one, marched.get(name, one), key=lambda e: e.share)
            line = (model.signals - base.signals) / ((value - CAUSES[name].neutral) or np.inf)
            again.append((name, _bounded(name, value + _along(problem, line, left))))
        tried = again
    return list((best | marched).values())


def _bounded(name: str, value: float) -> float:
    """No further than a model can be marched."""
    cause = CAUSES[name]
    far = FURTHEST * cause.plausible
    return at_least(name, float(np.clip(value, cause.neutral - far, cause.neutral + far)))


def _at_the_note(
    problem: TraceProblem, base: Predicted, moved: Predicted, notes: Mapping[str, Ringing], name: str
) -> float | None:
    """The value at which the model would ring as measured (a note goes with exp(value) nearly), from the
    model moved by a step; None where it does so already."""
    for k, channel in enumerate(problem.cycles.names):
        if channel not in notes:
            continue
        note = notes[channel]
        off = float(np.log(note.measured / note.model))
        other = ringing(moved.signals[k], base.signals[k], base.events, problem.rpm)
        if abs(off) < ANOTHER_NOTE or other is None:
            return None
        steps = float(np.log(other.measured / other.model))
        return CAUSES[name].neutral + CAUSES[name].step * off / steps if steps else None
    return None


def _turned(problem: TraceProblem, base: Predicted, whole: float) -> Explained:
    """Top dead centre by itself."""

    def left(by: float) -> float:
        return _squares(problem, problem.cycles.mean - turned(base.signals, by)) / whole

    found = minimize_scalar(left, bounds=(-MOST_TURNED, MOST_TURNED), method="bounded")
    return Explained(TDC, 1.0 - float(found.fun), float(found.x))


def _of_channels(
    problem: TraceProblem, base: Predicted, difference: np.ndarray, whole: float
) -> list[Explained]:
    """The gain of each channel, and all levels together."""
    found, levels = [], difference.copy()
    for k, name in enumerate(problem.cycles.names):
        column = np.zeros_like(difference)
        column[k] = base.signals[k]
        by = _along(problem, column, difference)
        share = 1.0 - _squares(problem, difference - by * column) / whole
        found.append(Explained(f"{GAIN} {name}", share, 1.0 + by))
        column[k] = 1.0
        levels -= _along(problem, column, difference) * column
    return [*found, Explained(PEG, 1.0 - _squares(problem, levels) / whole, 0.0)]


def _uneven(
    problem: TraceProblem, base: Predicted, difference: np.ndarray, whole: float, marks_at: float
) -> Explained:
    """Speed that changes within a turn."""
    th = np.radians(AT - marks_at)
    shapes = [np.sin(0.5 * k * th) for k in (1, 2, 3, 4)] + [1.0 - np.cos(th), 1.0 - np.cos(2.0 * th)]
    columns = np.array([-slope(base.signals) * shape * problem.weights for shape in shapes])
    flat = columns.reshape(len(shapes), -1).T
    amounts, *_ = np.linalg.lstsq(flat, (difference * problem.weights).ravel(), rcond=None)
    error = amounts @ np.array(shapes)
    rest = problem.cycles.mean - np.array([np.interp(AT - error, AT, s, period=720.0) for s in base.signals])
    return Explained(UNEVEN, 1.0 - _squares(problem, rest) / whole, float(np.abs(error).max()))


def meaning_of(name: str) -> str:
    """A cause in words, ``value`` to follow."""
    kind, _, channel = name.partition(" ")
    if kind in OF_CHANNELS and channel:
        return cause_of(name).meaning.replace("a channel", channel)
    return cause_of(name).meaning
