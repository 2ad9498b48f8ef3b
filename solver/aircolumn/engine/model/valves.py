"""Lift, flow coefficients and effective areas of the engine's valves over crank angle."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from aircolumn.flow.compiled.lookup import TABLE_STEPS
from aircolumn.flow.cylinder.flow_bench import discharge_coefficients
from aircolumn.flow.cylinder.valve_area import effective_area, reference_area
from aircolumn.flow.cylinder.valve_lift import Lobe, card_lift, table_lift

if TYPE_CHECKING:
    from aircolumn.engine.description.valves import Valve

TABLE_ANGLES = np.linspace(0.0, 720.0, TABLE_STEPS + 1)
# Degrees by which valve tables begin before the stated opening: more than half of what the longest
# timing seat to seat (description/cross_checks.py) can add to the shortest one stated.
TABLE_LEAD = 220.0


def lift_curve(valve: Valve, opens: float, closes: float) -> np.ndarray:
    """Valve lift, m, over TABLE_ANGLES counted from ``opens`` - TABLE_LEAD degrees."""
    lift = valve.lift
    if lift.highest is None:
        return table_lift(TABLE_ANGLES - TABLE_LEAD, 0.0, lift.angle, lift.lift, lift.lash)
    lobe = lift.lobe(closes - opens)
    return _card_lift(closes - opens, lift.highest, lift.events_lift, lift.lash, lobe)


@lru_cache(maxsize=64)  # asked for many times for each point
def _card_lift(duration: float, highest: float, events_lift: float, lash: float, lobe: Lobe) -> np.ndarray:
    lift = card_lift(TABLE_ANGLES - TABLE_LEAD, 0.0, duration, highest, events_lift, lash, lobe)
    lift.flags.writeable = False
    return lift


def discharge_tables(valve: Valve) -> tuple:
    """Lift over diameter, and Cd on valve.discharge.reference for flow in the normal direction (forward)
    and the other way (reverse), as the file has them (arrays)."""
    ratio, forward, reverse = _discharge_as_given(valve)
    d = valve.discharge
    tilted = d.factor * (1.0 + d.tilt * np.linspace(-1.0, 1.0, ratio.size)) if d.tilt else d.factor
    return ratio, tilted * forward, d.reverse_factor * tilted * reverse


def _discharge_as_given(valve: Valve) -> tuple:
    d = valve.discharge
    if d.bench is None:
        return tuple(np.array(t) for t in (d.lift_ratio, d.forward, d.reverse or d.forward))
    b = d.bench
    area = bench_area(valve)
    forward, reverse = (
        discharge_coefficients(flow, area, b.depression, b.pressure, b.temperature, blown)
        for flow, blown in _readings(valve)
    )
    return np.array(b.lift) / valve.diameter, forward, reverse


def _readings(valve: Any) -> tuple[tuple[list[float], bool], tuple[list[float], bool]]:
    """(flow, whether it is blown out of the cylinder) of the bench, forward and reverse. Without
    readings in reverse the coefficients hold both ways."""
    b = valve.discharge.bench
    if b.reverse_flow is None:
        return (b.flow, valve.forward_is_out), (b.flow, valve.forward_is_out)
    return (b.flow, valve.forward_is_out), (b.reverse_flow, not valve.forward_is_out)


def bench_area(valve: Any) -> np.ndarray:
    """Reference area, m2, of all valves of the port together at the lifts of the bench."""
    d, lift = valve.discharge, np.array(valve.discharge.bench.lift)
    geometry = (valve.diameter, valve.seat_width, valve.seat_angle, valve.stem)
    return valve.count * reference_area(d.reference, lift, *geometry)


class ValveAreas(NamedTuple):
    """Effective areas of all valves of a port together, m2, over TABLE_ANGLES counted from ``offset``
    (crank angle, degrees); arrays."""

    into_cylinder: np.ndarray
    out_of_cylinder: np.ndarray
    offset: float


class _Same:
    """A model that never changes, as a key: the same only if it is the same object."""

    def __init__(self, model: Any) -> None:
        self.model = model

    def __hash__(self) -> int:
        return id(self.model)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.model is other.model


def valve_areas(valve: Valve, opens: float, closes: float) -> ValveAreas:
    """Effective areas of the valves of a port in both directions."""
    return _valve_areas(_Same(valve), opens, closes)


@lru_cache(maxsize=64)  # asked for at every speed
def _valve_areas(same: _Same, opens: float, closes: float) -> ValveAreas:
    valve = same.model
    lift = lift_curve(valve, opens, closes)
    ratio, forward, reverse = discharge_tables(valve)
    into, out_of = (reverse, forward) if valve.forward_is_out else (forward, reverse)
    return ValveAreas(
        _areas(valve, lift, ratio, into), _areas(valve, lift, ratio, out_of), opens - TABLE_LEAD
    )


def forward_area(valve: Valve, opens: float, closes: float) -> np.ndarray:
    """Effective area in the direction of normal flow, m2, over TABLE_ANGLES."""
    areas = valve_areas(valve, opens, closes)
    return areas.out_of_cylinder if valve.forward_is_out else areas.into_cylinder


def _areas(valve: Valve, lift: np.ndarray, ratio: np.ndarray, coefficients: np.ndarray) -> np.ndarray:
    seat = (valve.diameter, valve.seat_width, valve.seat_angle, valve.stem)
    one = effective_area(lift, ratio, coefficients, valve.discharge.reference, *seat)
    return valve.count * one


def open_window(valve: Valve, opens: float, closes: float) -> tuple[float, float]:
    """First and last table angle, degrees, between which the valve is off its seat."""
    return _open_window(_Same(valve), opens, closes)


@lru_cache(maxsize=64)
def _open_window(same: _Same, opens: float, closes: float) -> tuple[float, float]:
    valve = same.model
    lifted = np.flatnonzero(lift_curve(valve, opens, closes) > 0.0)
    start = opens - TABLE_LEAD
    return start + TABLE_ANGLES[lifted[0] - 1], start + TABLE_ANGLES[lifted[-1] + 1]
