"""The engine as a network: air - inlet - throttle - plenum - runner and port - cylinder - port and
primary - outlet, for one cylinder whose flow the others repeat, or for the whole manifold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from math import pi
from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model import initial_guess as start
from aircolumn.engine.model.cylinder import cylinder_of
from aircolumn.engine.model.engine_network import EngineNetwork
from aircolumn.engine.model.geometry import firing_phases, geometry_of
from aircolumn.engine.model.inlet import add_inlet
from aircolumn.engine.model.log import add_log, join_runners
from aircolumn.engine.model.mixture import ambient_gas, drawn
from aircolumn.engine.model.piping import Piping, exhaust_piping, gathered_piping, intake_piping, mouth_loss
from aircolumn.engine.model.valves import valve_areas
from aircolumn.flow.duct.division import STEEPEST
from aircolumn.flow.ends.openings import area_of_loss, entry_loss
from aircolumn.flow.network.items import GasState

if TYPE_CHECKING:
    from aircolumn.engine.description.pipes import Collector
    from aircolumn.flow.gas.mixture import WorkingGas

EXHAUST_GAS = 288.0  # J/(kg K)


def build(engine: Engine, refinement: float = 1.0, rpm: float | None = None) -> EngineNetwork:
    """The engine's network; ``refinement`` 2 halves every cell; at ``rpm`` (rev/min) the march is
    to start from a likely plenum pressure.

    Where the engine is not computed whole, it is cylinder 1, and the others do the same to the
    plenum in their turn.
    """
    gas = ambient_gas(engine)
    geometry = geometry_of(engine)
    many = engine.computes_every_cylinder
    firing = firing_phases(engine)
    phases = firing if many else [0.0]
    net = EngineNetwork(gas.gas, conservative=engine.numerics.method == "conservative", products=gas.products)
    suction = engine.intake.source.pressure if rpm is None else start.suction(engine, gas, geometry, rpm)
    air = drawn(engine, gas)
    _add_volumes(net, engine, air, suction, refinement)
    filled = replace(air, pressure=suction)
    for k, phase in enumerate(phases, 1):
        _add_cylinder(net, engine, gas, k, phase, filled, refinement)
    if engine.intake.log is not None:
        join_runners(net, engine)
    if not many and engine.intake.plenum is not None:
        net.echo(net.intake(1), "left", firing[1:])
    collector = engine.exhaust.collector if many else None
    if collector is None:
        for k in range(1, len(phases) + 1):
            _open_to_outlet(net, net.exhaust(k))
    else:
        _add_collectors(net, engine, collector, refinement)
    return net


def _add_volumes(net: EngineNetwork, engine: Engine, air: Any, suction: float, refinement: float) -> None:
    t = engine.intake.throttle
    outlet = engine.exhaust.outlet.temperature
    net.reservoir(net.AIR, air.pressure, air.temperature, fuel=air.fuel)
    net.reservoir(net.OUTLET, start.back_pressure(engine), outlet, burned=1.0)
    if engine.exhaust.silencer is not None:
        _add_silencer(net, engine)
    net.reservoir(net.CRANKCASE, engine.intake.ambient.pressure, start.CRANKCASE_TEMPERATURE)
    if t is None:  # open air in the plenum's place
        net.reservoir(net.PLENUM, air.pressure, air.temperature, fuel=air.fuel)
        return
    add_duct = partial(_add_duct, net, cell=engine.cells[0], refinement=refinement)
    if engine.intake.log is None:
        volume = required(required(engine.intake.plenum).volume)
        net.vessel(net.PLENUM, volume, suction, air.temperature, fuel=air.fuel)
    else:
        add_log(net, engine.intake.log, replace(air, pressure=suction), add_duct)
    add_inlet(net, engine, air, start.throttle_area(t), add_duct)


def _add_cylinder(
    net: EngineNetwork,
    engine: Engine,
    gas: WorkingGas,
    k: int,
    phase: float,
    air: Any,
    refinement: float,
) -> None:
    """Cylinder ``k``, its intake from the plenum and its exhaust, with the valves between; phase:
    its firing top dead centre, degrees; air: what its intake holds."""
    begin = geometry_of(engine).intake_seats
    engine = engine.of_cylinder(k)
    geometry = geometry_of(engine)
    net.cylinder(
        net.chamber(k),
        cylinder_of(engine, gas, geometry, phase, begin),
        air.pressure,
        start.CHARGE_TEMPERATURE,
        fuel=air.fuel * (1.0 - start.BURNED_SHARE),
        burned=start.BURNED_SHARE,
    )
    net.orifice(net.chamber(k), net.CRANKCASE, engine.rings.area(engine.block.bore))
    intake, exhaust = net.intake(k), net.exhaust(k)
    _add_duct(net, intake, intake_piping(engine), air, engine.cells[0], refinement)
    _add_duct(net, exhaust, exhaust_piping(engine), _exhaust_gas(engine), engine.cells[1], refinement)
    if engine.intake.log is None:
        net.opening(intake, "left", net.PLENUM, loss=mouth_loss(engine.intake.runner))
    iv, ev = engine.intake.valve, engine.exhaust.valve
    into, out_of, offset = valve_areas(iv, geometry.intake_opens, geometry.intake_closes)
    net.valve(intake, "right", net.chamber(k), into, out_of, offset + phase, injector=True)
    into, out_of, offset = valve_areas(ev, geometry.exhaust_opens, geometry.exhaust_closes)
    net.valve(exhaust, "left", net.chamber(k), into, out_of, offset + phase)


def _exhaust_gas(engine: Engine) -> GasState:
    return GasState(start.back_pressure(engine), start.EXHAUST_TEMPERATURE, burned=1.0)


def _add_silencer(net: EngineNetwork, engine: Engine) -> None:
    """A vessel and a throat with the silencer's loss. A throat wider than all pistons together,
    several times as wide as the pipes, loses nothing that counts and is not made wider: it would
    only ask for tiny steps."""
    s = required(engine.exhaust.silencer)
    pressure = start.back_pressure(engine)
    density = pressure / (EXHAUST_GAS * s.temperature)
    net.vessel(net.SILENCER, s.volume, pressure, s.temperature, burned=1.0)
    area = area_of_loss(s.flow, density, s.pressure_drop)
    widest = engine.block.cylinders * 0.25 * pi * engine.block.bore**2
    net.orifice(net.SILENCER, net.OUTLET, min(area, widest))


def _open_to_outlet(net: EngineNetwork, duct: str) -> None:
    end = net.SILENCER if net.SILENCER in net.volumes else net.OUTLET
    net.opening(duct, "right", end, loss=entry_loss("plain", 1.0))


def _add_collectors(net: EngineNetwork, engine: Engine, collector: Collector, refinement: float) -> None:
    """The primaries of each group meet in a junction and go on as one pipe; these may meet too."""
    cell, gas, merge = engine.cells[1], _exhaust_gas(engine), engine.exhaust.merge
    groups = collector.groups or [list(range(1, engine.block.cylinders + 1))]
    for number, group in enumerate(groups, 1):
        name = net.collector(number)
        piping = gathered_piping(collector, ends=merge is None)
        _add_duct(net, name, piping, gas, cell, refinement)
        _meet(net, [(net.exhaust(k), "right") for k in group], name, collector.angle)
        if merge is None:
            _open_to_outlet(net, name)
    if merge is not None:
        _add_duct(net, net.MERGE, gathered_piping(merge, ends=True), gas, cell, refinement)
        meeting = [(net.collector(k), "right") for k in range(1, len(groups) + 1)]
        _meet(net, meeting, net.MERGE, merge.angle)
        _open_to_outlet(net, net.MERGE)


def _meet(net: EngineNetwork, ends: Sequence[tuple[str, str]], name: str, angle: float) -> None:
    """Let ``ends`` go on as the duct ``name``, into which each turns by ``angle``, degrees."""
    net.junction(*ends, (name, "left"), angles=[180.0 - angle] * len(ends) + [0.0])


def _add_duct(
    net: EngineNetwork, name: str, piping: Piping, state: GasState, cell: float, refinement: float
) -> None:
    steepest = STEEPEST / min(refinement, 1.0)  # a coarse start need not resolve steep cones
    net.laid_duct(name, piping.layout(cell / refinement, steepest), state)
