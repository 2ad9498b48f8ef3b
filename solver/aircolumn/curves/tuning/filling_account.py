"""Why VE is not 1: the filling account of an engine, in shares of VE.

Method: the operating point is computed again with one effect after another removed, in the order of
EFFECTS and in the reverse order, each on top of those before. What removing an effect does to VE,
the mean of both orders, is that effect's entry (with it less without it: losses are negative). What
is left of 1 - VE when all are gone comes from the residual gas that the clearance keeps, and from
valve timing. So the entries add up to VE - 1 exactly.

Effects interact: warm air also shifts the tuning. The mean over an order and its reverse is the
least sample of all orders in Shapley's value (sampled orders: Castro, Gomez & Tejada 2009, Comput.
Oper. Res. 36; from memory). Half the difference between the two orders (``swing``) is kept. An
entry that it outweighs acts through others, mostly through the tuning, and not by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from aircolumn.curves.points import point_grid
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.curves.to_xarray import add_reasons, labelled_speeds
from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import engine_of
from aircolumn.engine.description.pipes import Taper

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.pipes import PipePerCylinder
    from aircolumn.engine.description.reader import Description
    from aircolumn.engine.description.valves import IntakeValve
    from aircolumn.protocols import ProgressCallback

STUB_CELLS = 4  # the shortest duct the solver takes


def no_pipe_heat(engine: Engine) -> Engine:
    """Runner and port neither heat nor cool."""
    i = engine.intake
    return engine.with_intake(runner=i.runner.each(_adiabatic), port=i.port.each(_adiabatic))


def _adiabatic(pipe: PipePerCylinder) -> PipePerCylinder:
    return pipe.changed(heat_factor=0.0)


def no_cylinder_heat(engine: Engine) -> Engine:
    """The cylinder's walls exchange no heat while a valve is open."""
    return engine.changed(cylinder_walls=engine.cylinder_walls.changed(exchange_factor=0.0))


def no_vapour(engine: Engine) -> Engine:
    """Fuel comes after the valve has shut and takes no heat from the charge."""
    mixture = engine.mixture.changed(delivery="direct", charge_cooling=0.0, injection_start=0.0)
    return engine.changed(mixture=mixture)


def no_backflow(engine: Engine) -> Engine:
    """Nothing passes the intake valve backwards."""
    return engine.with_intake(valve=engine.intake.valve.each(_one_way))


def _one_way(valve: IntakeValve) -> IntakeValve:
    d = valve.discharge
    if d.bench is None:
        d = d.changed(reverse=[0.0] * len(required(d.forward)))
    else:
        d = d.changed(bench=d.bench.changed(reverse_flow=[0.0] * len(d.bench.flow)))
    return valve.changed(discharge=d)


def no_flow_losses(engine: Engine) -> Engine:
    """Open air at the runner's mouth, no loss there, no wall friction, no bends."""
    i = engine.intake
    runner = i.runner.each(lambda r: _smooth(r).changed(entry=r.entry.changed(loss=0.0)))
    return engine.with_intake(
        runner=runner, port=i.port.each(_smooth), inlet=None, throttle=None, plenum=None
    )


def _smooth(pipe: PipePerCylinder) -> PipePerCylinder:
    sections = pipe.sections and [s.changed(bend_angle=0.0, bend_loss=None) for s in pipe.sections]
    return pipe.changed(friction_factor=0.0, sections=sections, bend_angle=None, bend_radius=None)


def no_valve_loss(engine: Engine) -> Engine:
    """The intake valve passes what its geometric area would without loss (Cd = 1)."""
    return engine.with_intake(valve=engine.intake.valve.each(_ideal))


def _ideal(valve: IntakeValve) -> IntakeValve:
    d = valve.discharge
    no_reverse = (d.reverse or [1.0])[0] == 0.0 or (d.bench and d.bench.reverse_flow is not None)
    ideal = d.changed(
        reference="geometric",
        lift_ratio=[0.0, 1.0],
        forward=[1.0, 1.0],
        reverse=[0.0, 0.0] if no_reverse else [1.0, 1.0],
        bench=None,
    )
    return valve.changed(discharge=ideal)


def _stub(pipe: PipePerCylinder, bore: float, length: float) -> Any:
    return pipe.changed(
        length=length,
        bore=Taper.model_construct(start=bore, end=bore),
        sections=None,
        route=None,
        sizes=None,
        lengths=None,
        by_cylinder=None,
        friction_factor=0.0,
    )


def no_intake_waves(engine: Engine) -> Engine:
    """The valve draws from the plenum through a stub of STUB_CELLS cells: no waves, no ram."""
    i = engine.intake
    bore = i.port.last_bore
    half = 0.5 * STUB_CELLS * engine.cells[0]
    runner = _stub(i.runner, bore, half)
    runner = runner.changed(entry=runner.entry.changed(end_correction=False))
    return engine.with_intake(runner=runner, port=_stub(i.port, bore, half))


def no_exhaust_waves(engine: Engine) -> Engine:
    """The exhaust valve opens through such a stub into gas at ambient pressure."""
    x = engine.exhaust
    bore = x.port.last_bore
    half = 0.5 * STUB_CELLS * engine.cells[1]
    exhaust = x.changed(
        port=_stub(x.port, bore, half),
        primary=_stub(x.primary, bore, half),
        collector=None,
        merge=None,
        silencer=None,
        outlet=x.outlet.changed(pressure=engine.intake.ambient.pressure, back_pressure=None, at=None),
    )
    return engine.changed(exhaust=exhaust)


#: name: what removes it, in the first order.
EFFECTS = {
    "heating in runner and port": no_pipe_heat,
    "heating in the cylinder": no_cylinder_heat,
    "fuel vapour and its cooling": no_vapour,
    "backflow through the intake valve": no_backflow,
    "throttle, plenum, mouth and pipe losses": no_flow_losses,
    "intake valve losses": no_valve_loss,
    "ram and waves in the intake": no_intake_waves,
    "waves and back pressure in the exhaust": no_exhaust_waves,
}
REST = "residual gas and valve timing"


def _removed(engine: Engine, removals: Sequence[Callable]) -> list[Engine]:
    """The engine, then without one thing after another."""
    steps = [engine]
    for remove in removals:
        steps.append(remove(steps[-1]))
    return steps


def filling_account(
    engine: Engine | Description,
    rpm: ArrayLike | None = None,
    progress: ProgressCallback | None = None,
    workers: int | None = None,
) -> xr.Dataset:
    """Why VE is not 1: what each effect gives or takes, over speed.

    Parameters
    ----------
    engine : Engine or Description
        Of a Description the engine of the file.
    rpm, progress, workers
        As for ``curve``.

    Returns
    -------
    xarray.Dataset
        ve (rpm); account (entry, rpm): what each effect does to VE, as a share of 1, the mean of removing
        them in one order and in the reverse order; the entries add up to VE - 1. swing (entry, rpm): half the
        difference between both orders; an entry that it outweighs acts through others.

    Raises
    ------
    ComputationError, RequestError
        As for ``curve``.
    """
    import xarray as xr

    engine = engine_of(engine)
    speeds = chosen_speeds(engine, rpm)
    removals = list(EFFECTS.values())
    there, back = _removed(engine, removals), _removed(engine, removals[::-1])
    # The engine as it is and the one without any of them are in both.
    grid = point_grid([*there, *back[1:-1]], speeds, progress, workers)
    ve = grid.figure("ve")
    down, up = ve[: len(there)], np.vstack([ve[:1], ve[len(there) :], ve[len(there) - 1]])
    orders = np.array([down[:-1] - down[1:], (up[:-1] - up[1:])[::-1]])
    rest = down[-1:] - 1.0
    data = xr.Dataset(coords={"entry": [*EFFECTS, REST], "rpm": speeds})
    labelled_speeds(data)
    data["ve"] = ("rpm", ve[0], {"units": "1", "long_name": "VE, trapped air, ambient reference"})
    for name, values, last, meaning in (
        ("account", orders.mean(axis=0), rest, "what each effect does to VE; the entries add up to VE - 1"),
        (
            "swing",
            0.5 * (orders[0] - orders[1]),
            0.0 * rest,
            "half of what an entry is more in the first order than in its reverse",
        ),
    ):
        about = {"units": "1", "long_name": meaning}
        data[name] = (("entry", "rpm"), np.vstack([values, last]), about)
    first = [next(filter(None, column), "") for column in grid.reasons.T]
    reasons = np.array(first, dtype=object)
    add_reasons(data, "rpm", reasons, "why the account is not complete")
    data.attrs = {"title": engine.title, "method": " ".join(__doc__.split("Method: ")[1].split())}
    return data
