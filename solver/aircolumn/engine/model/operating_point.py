"""One operating point: march cycles until they repeat, then account for the last one.

A point that does not converge, or whose ledger is open by more than LEDGER_GAP, is an error, never
a result.

Most of the way is marched on a coarse mesh (nested iteration: Hackbusch, Multi-Grid Methods and
Applications, ch. 5): a third of the cells takes a sixth of the work a cycle, its cycle differs
from the fine one by less than a per cent, and the fine mesh, started from it, needs three or four
cycles where it would need ten from rest. Where ducts have so few cells that a coarse mesh would
save little, there is none. A point from rest depends on nothing but its engine and speed; one beside
others (neighbours.py) on what it was started from too.

Where the echoes of a lone cylinder do not settle (convergence.py), all cylinders are computed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import engine_of, one_speed
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.convergence import Approach, repeat
from aircolumn.engine.model.engine_network import EngineNetwork
from aircolumn.engine.model.figures import OperatingPoint, account
from aircolumn.engine.model.fuel_film import with_film
from aircolumn.engine.model.geometry import Geometry, geometry_of
from aircolumn.engine.model.neighbours import Settled, begun, guess_at
from aircolumn.engine.model.piping import LEAST_CELLS
from aircolumn.errors import ComputationError
from aircolumn.flow.cylinder.burn import USUAL_PISTON_SPEED, slowness
from aircolumn.flow.network.run import Run
from aircolumn.flow.network.state import State

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description

# The way to the periodic cycle is marched on a mesh this much coarser, to a tolerance this much
# wider, for at most so many cycles; the fine mesh starts from there.
COARSE, COARSE_REPEAT, COARSE_CYCLES = 0.35, 6.0, 24
WORTH = 0.45  # of the fine mesh's cells: a coarse mesh of more saves nothing
PHASING = (-5.0, 35.0)  # deg, where the best burn phasing is searched for
MOST_ECHOED = 60  # cycles of a lone cylinder, before all are computed


def operating_point(engine: Engine | Description, rpm: float, refinement: float = 1.0) -> OperatingPoint:
    """March an engine to its periodic cycle.

    Parameters
    ----------
    engine : Engine or Description
        Of an engine file, with the runner it is to have; of a Description the engine of the file.
    rpm : float
        Speed, rev/min.
    refinement : float
        2 halves cells and step.

    Returns
    -------
    OperatingPoint
        Figures (SI), mass and energy ledger, VE of each cylinder computed.

    Raises
    ------
    ComputationError
        If the cycle does not repeat, or its mass or energy does not balance.
    RequestError
        For a speed no engine turns at.

    Examples
    --------
    >>> import aircolumn
    >>> engine = aircolumn.load("configs/classroom-single.yaml").engine
    >>> round(float(operating_point(engine, 4500.0).figures["ve"]), 1)
    1.1
    """
    return converged(engine_of(engine), one_speed(rpm), refinement)[2]


def converged(
    engine: Engine,
    rpm: float,
    refinement: float = 1.0,
    change: Callable | None = None,
) -> tuple[Engine, Run, OperatingPoint]:
    """(engine as it burns at this speed, its run at the end of a periodic cycle, the point).

    change: called with the Network before it is marched, for asking what-if. Other arguments and
    errors as for operating_point.
    """
    return _found(engine, rpm, refinement, change)[:3]


def point_beside(
    engine: Engine, rpm: float, refinement: float, at: float, neighbours: Sequence[Settled | None]
) -> tuple[OperatingPoint, Settled | None]:
    """(The point, what its own neighbours may start from), started from ``neighbours``, from rest without any
    that is of the same mesh; at: where the point stands among them. Errors as for operating_point."""
    _, run, point, end = _found(engine, rpm, refinement, None, guess_at(at, neighbours))
    settled = None if end is None else Settled(at, State.of(run), end)
    return point, settled


def _found(
    engine: Engine, rpm: float, refinement: float, change: Callable | None, start: Settled | None = None
) -> _Found:
    if not 0.0 < rpm < 1e5:
        raise ComputationError(f"{rpm} rpm is not a speed that can be computed")
    if engine.combustion.ca50 is None:
        return _best_phasing(engine, rpm, refinement, change)
    engine = _at_speed(engine, rpm)
    if start is not None:
        try:
            return _marched(engine, rpm, refinement, change, start)
        except ComputationError:
            pass  # from rest it may yet get there
    try:
        return _marched(engine, rpm, refinement, change, None)
    except ComputationError:
        if not engine.has_echoes or change is not None:
            raise
    # What the echoes cannot bring to repeat, all cylinders together mostly do.
    found = _marched(engine.changed(model="manifold"), rpm, refinement, None, None)
    point = replace(found.point, ve_cylinder=found.point.ve_cylinder.mean(keepdims=True))
    return found._replace(point=point, end=None)


class _Found(NamedTuple):
    """An engine as it burns at a speed, its run at the end of a periodic cycle, the point, and what its
    approach taught (None where neighbours cannot go on from it: it repeats only over several cycles, or
    is not of the engine's own model)."""

    engine: Engine
    run: Run
    point: OperatingPoint
    end: Approach | None


def _marched(
    engine: Engine, rpm: float, refinement: float, change: Callable | None, start: Settled | None
) -> _Found:
    """As converged, for the model and the burn that ``engine`` states."""
    geometry, fine = geometry_of(engine), build(engine, refinement, rpm)
    if change is not None:
        change(fine)
    if start is not None:
        run = fine.ready(geometry.intake_seats)
        if start.state.fits(State.of(run)):
            start.state.into(run)
            return march_to_cycle(engine, run, rpm, geometry, begun(start))
    coarser, before = None, None
    if _worth_starting_coarse(fine):
        coarse = build(engine, COARSE * refinement, rpm)
        if change is not None:
            change(coarse)
        coarser, before = _approach(engine, coarse.ready(geometry.intake_seats), rpm)
    return march_to_cycle(engine, fine.ready(geometry.intake_seats, coarser), rpm, geometry, before)


def _worth_starting_coarse(network: EngineNetwork) -> bool:
    """Whether a coarse mesh has so many fewer cells that the way on it is shorter."""
    cells = [sum(reach.cells for reach in duct.reaches) for duct in network.ducts.values()]
    return sum(max(COARSE * n, LEAST_CELLS) for n in cells) < WORTH * sum(cells)


def _approach(engine: Engine, run: Run, rpm: float) -> tuple[Run | None, Approach | None]:
    """March a coarse run near to its periodic cycle: (run, its approach), None if it fails (the
    fine one then starts from rest)."""
    within = COARSE_REPEAT * engine.numerics.repeat_within
    try:
        _, approach, _ = repeat(engine, run, rpm, within, COARSE_CYCLES)
    except ComputationError:
        return None, None
    return run, replace(approach, walls=None)  # of other cells


def _with_combustion(engine: Engine, **changes: Any) -> Engine:
    return engine.changed(combustion=engine.combustion.changed(**changes))


def _at_speed(engine: Engine, rpm: float) -> Engine:
    """The engine with the burn duration, the supply, the back pressure and the fuel film of this speed."""
    c, supply, exhaust = engine.combustion, engine.intake.supply, engine.exhaust
    if exhaust.outlet.back_pressure is not None:
        pressure = exhaust.outlet.pressure_at(rpm, engine.intake.ambient.pressure)
        outlet = exhaust.outlet.changed(pressure=pressure, back_pressure=None, at=None)
        engine = engine.changed(exhaust=exhaust.changed(outlet=outlet))
    if supply is not None:
        engine = engine.with_intake(supply=supply.at(rpm))
    duration = c.duration_10_90 * lengthened(engine, rpm)
    return _with_combustion(with_film(engine, rpm), duration_10_90=duration)


def lengthened(engine: Engine, rpm: float) -> float:
    """By how much speed and mixture lengthen the burn (flow/cylinder/burn.py)."""
    c = engine.combustion
    reference = c.reference_speed or 30.0 * USUAL_PISTON_SPEED / engine.block.stroke
    slow = slowness(engine.mixture.fuel.name or "", engine.mixture.relative)
    return float((rpm / reference) ** c.speed_exponent * slow**c.mixture_exponent)


def _best_phasing(engine: Engine, rpm: float, refinement: float, change: Any) -> _Found:
    """Burn phased for most torque to half a degree (scipy's bounded search)."""
    from scipy.optimize import minimize_scalar  # slow to load and seldom needed

    tried = {}

    def loss(angle: Any) -> Any:
        phased = _with_combustion(engine, ca50=float(angle))
        found = _found(phased, rpm, refinement, change)
        tried[float(angle)] = found._replace(end=None)
        return -found.point.figures["torque"]

    found = minimize_scalar(loss, bounds=PHASING, method="bounded", options={"xatol": 0.5})
    return tried[float(found.x)]


def march_to_cycle(
    engine: Engine, run: Run, rpm: float, geometry: Geometry, before: Approach | None = None
) -> _Found:
    """March ``run`` until the cycle (or a few cycles together) repeats, and account for it."""
    n = engine.numerics
    most = min(n.most_cycles, MOST_ECHOED) if engine.has_echoes else n.most_cycles
    convergence, end, found = repeat(engine, run, rpm, n.repeat_within, most, before)
    if found is None:
        raise ComputationError(
            f"at {rpm:g} rpm the cycle does not repeat within {n.repeat_within:g} after"
            f" {most} cycles ({convergence.describe()}); check the engine file for"
            " something that keeps air from flowing, or raise numerics.most_cycles"
        )
    point = account(engine, run, rpm, geometry, found)
    return _Found(engine, run, point, end if found.period == 1 else None)
