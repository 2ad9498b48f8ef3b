"""A point started from its neighbours: the periodic cycles of one or two points beside it.

Between neighbouring speeds (or sizes) all that an engine holds at intake-valve closing changes little, and
nearly along a straight line (a parabola through three starts no nearer). A march that starts on the line
through two neighbours needs two or three cycles where one from rest needs four or five and a coarse mesh
before. What it ends with is judged like every other cycle (repetition.py); the guess for the cycle before
stands in for one that was marched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from aircolumn.engine.model.convergence import Approach
from aircolumn.flow.network.state import State, on_line

JUDGED_FROM = 1  # cycle: with the guess, two values and a change, of which more is asked (FEW_TO_COME)


@dataclass(frozen=True)
class Settled:
    """The end of a periodic cycle: where the point stands among its neighbours (rev/min, or another number
    that they differ by), the state there, and what its march has taught."""

    at: float
    state: State
    taught: Approach


def guess_at(at: float, neighbours: Sequence[Settled | None]) -> Settled | None:
    """A guess for the point at ``at``: on the straight line through the two nearest neighbours, or the state
    of the only one; None without any."""
    known = sorted((s for s in neighbours if s is not None), key=lambda s: abs(s.at - at))
    if not known:
        return None
    near = known[0]
    if len(known) == 1 or not near.state.fits(known[1].state):
        return near
    far = known[1]
    share = (at - near.at) / (near.at - far.at)
    return Settled(at, on_line(near.state, far.state, share), _taught_on_line(near.taught, far.taught, share))


def begun(guess: Settled) -> Approach:
    """What a march that starts from a guess goes on from: one cycle, and the walls."""
    return replace(guess.taught, history=guess.taught.history[-1:], judged_from=JUDGED_FROM)


def _taught_on_line(near: Approach, far: Approach, share: float) -> Approach:
    row = near.history[-1] + share * (near.history[-1] - far.history[-1])
    walls = near.walls
    if near.walls is not None and far.walls is not None:
        walls = near.walls + share * (near.walls - far.walls)
    return Approach((row,), near.slope, walls)
