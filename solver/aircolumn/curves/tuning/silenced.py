"""What the waves are worth: the same engine with the intake's or the exhaust's ends silent.

A silent end lets every wave out and sends none back. What VE loses without the waves of one side is
what they give at that speed; that includes the air column's momentum, which is a wave too. Between
a hump and the dip beside it the change of that is what the side has to do with the two.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from os import cpu_count
from typing import Any

from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.initial_guess import EXHAUST_TEMPERATURE
from aircolumn.engine.model.mixture import ambient_gas, drawn, gas_constant
from aircolumn.engine.model.operating_point import converged
from aircolumn.flow.arrays.ends import CALM, RESERVOIR
from aircolumn.flow.network.items import End


def ve_with(engine: Engine, rpm: float, change: Callable) -> float:
    """VE with the network changed. Raises ComputationError."""
    return float(converged(engine, rpm, change=change)[2].figures["ve"])


def silent_mouth(engine: Engine, pressure: float | None = None) -> Callable:
    """Change for trace and converged: the runners' mouths swallow waves instead of reflecting them.

    Beyond a mouth lies what the engine draws (air, or the mixture if it is premixed) at
    ``pressure``, Pa (default: ambient; at part throttle give the plenum's mean).
    Throttle and plenum no longer count, and gas that enters has the composition of the gas inside.
    """
    gas = ambient_gas(engine)
    air = drawn(engine, gas)
    p = air.pressure if pressure is None else pressure
    rho = p / (gas_constant(gas.gas, air.fuel, 0.0) * air.temperature)

    def change(network: Any) -> None:
        network.echoes = None
        if network.PLENUM in network.volumes:
            plenum = replace(network.volumes[network.PLENUM], kind=RESERVOIR, pressure=p)
            network.volumes[network.PLENUM] = plenum  # nothing is drawn from it
        for k in network.computed:
            _calm(network, (network.intake(k), "left"), p, rho)

    return change


def silent_exhaust(engine: Engine, pressure: float) -> Callable:
    """Make the far ends of the primaries give no echo. They open into burned gas at ``pressure``,
    Pa (the mean in the port): no wave comes back, and none from another cylinder."""
    gas = ambient_gas(engine).gas
    rho = pressure / (gas_constant(gas, 0.0, 1.0) * EXHAUST_TEMPERATURE)

    def change(network: Any) -> None:
        for k in network.computed:
            _calm(network, (network.exhaust(k), "right"), pressure, rho)

    return change


def _calm(network: Any, end: tuple[str, str], p: Any, rho: float) -> None:
    """Make an end calm, and let the ends that it met go on without it."""
    ring = [name for name, other in network.ends.items() if other.partner == end]
    for name in ring:
        beyond = network.ends[end].partner
        alone = beyond == name and network.ends[name].partner == end
        network.ends[name] = End(CALM, p=p, rho=rho) if alone else replace(network.ends[name], partner=beyond)
    network.ends[end] = End(CALM, p=p, rho=rho)


def in_parallel(function: Callable, jobs: Iterable) -> list:
    """function(*job) of each, on all cores."""
    with ThreadPoolExecutor(cpu_count() or 1) as pool:
        return [future.result() for future in [pool.submit(function, *job) for job in jobs]]
