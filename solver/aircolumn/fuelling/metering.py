"""From air to the pulse of an injector.

    fuel a cycle    mf = m / (lambda AFR)                          AFR: of the stoichiometric mixture, by mass
    flow            q = q0 sqrt(dp / dp0)                          incompressible, through a fixed orifice
    pulse           t = mf / (injectors a cylinder x q) + t0(V)    t0: dead time at the battery's voltage
    duty            t / (120 / n)                                  one opening a cycle, n rev/min

A flow stated by volume, of a test fluid, is by mass q0 = Q sqrt(r_fluid r_fuel): the same orifice at the same
pressure (Bernoulli)."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.base import required

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.fuelling import Injectors


@dataclass(frozen=True)
class Metered:
    """Arrays (speeds, loads). fuel: kg a cylinder and cycle; pulse: s; duty: share of the cycle; worst:
    numbers (speed, load) of the cell with the most duty; size: flow of an injector, kg/s at its stated
    pressure, that would just keep to the most duty there."""

    fuel: np.ndarray
    pulse: np.ndarray
    duty: np.ndarray
    worst: tuple[int, int]
    size: float


def rated_flow(injectors: Injectors) -> float:
    """Fuel through one held open at its stated pressure, kg/s."""
    if injectors.flow is not None:
        return injectors.flow
    return required(injectors.volume_flow) * sqrt(injectors.fluid_density * injectors.fuel_density)


def dead_time(injectors: Injectors) -> float:
    """At the battery's voltage, s; beyond the voltages stated that of the nearest."""
    if not (injectors.voltages and injectors.dead_times):
        return injectors.dead_time
    return float(np.interp(injectors.battery, injectors.voltages, injectors.dead_times))


def _times_rated(injectors: Injectors, outside: np.ndarray | float, manifold: np.ndarray) -> np.ndarray:
    """Flow into a cylinder over the rated flow of one; outside: pressure of the open air, Pa."""
    above = outside - manifold if injectors.regulated_to == "air" else np.zeros_like(manifold)
    across = np.maximum(injectors.rail + above, 0.0)
    return injectors.per_cylinder * np.sqrt(across / injectors.at)


def fuel_of_pulse(
    injectors: Injectors, pulse: np.ndarray, outside: np.ndarray, manifold: np.ndarray
) -> np.ndarray:
    """Fuel a cylinder and cycle, kg, of pulses, s (whole, dead time and all); pressures of the open air and
    of the manifold, Pa; all of one shape."""
    open_for = np.maximum(pulse - dead_time(injectors), 0.0)
    return open_for * rated_flow(injectors) * _times_rated(injectors, outside, manifold)


def metered(
    engine: Engine,
    injectors: Injectors,
    air: np.ndarray,
    manifold: np.ndarray,
    rpm: np.ndarray,
    target: np.ndarray,
) -> Metered:
    """What injectors have to do. air: kg a cylinder and cycle, manifold: Pa, target: lambda, all (speeds,
    loads); rpm: (speeds,)."""
    fuel = air / (target * engine.mixture.stoichiometric_ratio)
    each = _times_rated(injectors, engine.intake.ambient.pressure, manifold)
    shut, cycle = dead_time(injectors), 120.0 / rpm[:, None]
    pulse = fuel / (each * rated_flow(injectors)) + shut
    duty = pulse / cycle
    i, j = np.unravel_index(int(np.nanargmax(duty)), duty.shape)
    open_for = injectors.most_duty * float(cycle[i, 0]) - shut
    size = float(fuel[i, j] / each[i, j] / open_for) if open_for > 0.0 else float("inf")
    return Metered(fuel, pulse, duty, (int(i), int(j)), size)
