"""March cycles until they repeat.

A cycle runs from one intake-valve closing to the next. When it counts as repeating says
repetition.py. The slowest modes are the plenum's: plenum_balance.py moves its contents to where
they are bound; the cycles after it are marched and judged like any other.

The echoes of a lone cylinder (ends/echo.py) are remembered anew every cycle. Where that does not
settle, as with a plenum that little holds, they keep a share of the cycle before
(under-relaxation), which changes the way to the periodic cycle and not the cycle.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.figures import Repeated
from aircolumn.engine.model.plenum_balance import PlenumBalance
from aircolumn.engine.model.plenum_mean import PlenumMean, mean_of_cycles, plenum_mean, probes_for
from aircolumn.engine.model.repetition import LEAST_CYCLES, CycleConvergence
from aircolumn.engine.model.snapshot import snapshot
from aircolumn.engine.model.wall_balance import WallBalance
from aircolumn.errors import ComputationError, MarchError
from aircolumn.flow.arrays.blocks import RELAXATION
from aircolumn.flow.network.run import Run

# Of a run's first cycle this share is marched at so much of the usual Courant number.
START_SHARE, START_COURANT = 0.02, 0.3
# (after so many cycles on a mesh, the share of the cycle before that echoes keep)
ECHO_RELAXATION = ((0, 0.0), (9, 0.5), (28, 0.75))


@dataclass(frozen=True)
class Approach:
    """What a march to the periodic cycle has taught another one that goes on from it: the last cycles (rows
    as in repetition.py, newest last), the slopes of the plenum's balance, temperatures of the walls that
    follow theirs (K; None: not known on this mesh), and from which cycle on it is judged."""

    history: tuple[np.ndarray, ...]
    slope: np.ndarray
    walls: np.ndarray | None = None
    judged_from: int = LEAST_CYCLES


def repeat(
    engine: Engine, run: Run, rpm: float, within: float, most: int, before: Approach | None = None
) -> tuple[CycleConvergence, Approach, Repeated | None]:
    """March at most ``most`` cycles until they repeat within ``within``; None if they do not.
    before: the approach that ``run`` goes on from. Raises ComputationError if the march fails."""
    omega = rpm * pi / 30.0
    convergence, plenum = CycleConvergence(within, run), PlenumBalance(engine, run, within)
    if before is not None:
        convergence.goes_on(before.history, before.judged_from)
        plenum.slope = before.slope
    walls = WallBalance(run)
    if before is not None and before.walls is not None:
        walls.put(before.walls)
    snapshots = [snapshot(run)]
    drawn_from: list[PlenumMean] = []
    for count in range(1, most + 1):
        relaxation = next(share for start, share in reversed(ECHO_RELAXATION) if count > start)
        run.blocks.clock[RELAXATION] = max(relaxation, run.blocks.clock[RELAXATION])
        drawn_from.append(_march_cycle(run, omega, engine.numerics.courant, rpm))
        snapshots.append(snapshot(run))
        plenum.watch(snapshots[-2], snapshots[-1], drawn_from[-1].pressure)
        period = convergence.period(snapshots, plenum.imbalance)
        walls.follow(4.0 * pi / omega)
        if period and walls.settled:
            found = Repeated(snapshots[-period - 1 :], count, mean_of_cycles(drawn_from[-period:]))
            return convergence, _taught(convergence, plenum, walls), found
        if plenum.move(snapshots[-1]):
            convergence.moved()
            snapshots = [snapshot(run)]
    return convergence, _taught(convergence, plenum, walls), None


def _taught(convergence: CycleConvergence, plenum: PlenumBalance, walls: WallBalance) -> Approach:
    return Approach(tuple(convergence.history[-3:]), plenum.slope, walls.temperatures)


def _march_cycle(run: Run, omega: float, courant: float, rpm: float) -> PlenumMean:
    """March one cycle; returns what it drew from."""
    run.chambers.peak_pressure[:] = 0.0
    period = 4.0 * pi / omega
    begins = START_SHARE * period if run.steps == 0 else 0.0
    probes = probes_for(run)
    try:
        if begins > 0.0:  # valves that stand open between guessed states: like burst diaphragms
            run.march(begins, omega=omega, courant=START_COURANT * courant)
        record = run.march(period - begins, omega=omega, courant=courant, probes=probes, room=4000)
    except MarchError as error:
        raise ComputationError(f"at {rpm:g} rpm {error}") from None
    return plenum_mean(run, record)
