"""Lift, flow coefficients and effective areas of the engine's valves over crank angle."""

from functools import lru_cache

import numpy as np

from aircolumn.flow.compiled.lookup import TABLE_STEPS
from aircolumn.flow.cylinder.flow_bench import discharge_coefficients
from aircolumn.flow.cylinder.valve_area import effective_area, reference_area
from aircolumn.flow.cylinder.valve_lift import card_lift, table_lift

TABLE_ANGLES = np.linspace(0.0, 720.0, TABLE_STEPS + 1)
# Degrees by which valve tables begin before the stated opening: more than half of what the longest
# timing seat to seat (description/cross_checks.py) can add to the shortest one stated.
TABLE_LEAD = 220.0


def lift_curve(valve, opens: float, closes: float):
    """Valve lift, m, over TABLE_ANGLES counted from ``opens`` - TABLE_LEAD degrees."""
    lift = valve.lift
    if lift.highest is None:
        return table_lift(TABLE_ANGLES - TABLE_LEAD, 0.0, lift.angle, lift.lift, lift.lash)
    return _card_lift(closes - opens, lift.highest, lift.events_lift, lift.lash)


@lru_cache(maxsize=64)  # asked for many times for each point
def _card_lift(duration, highest, events_lift, lash):
    lift = card_lift(TABLE_ANGLES - TABLE_LEAD, 0.0, duration, highest, events_lift, lash)
    lift.flags.writeable = False
    return lift


def discharge_tables(valve) -> tuple:
    """Lift over diameter, and Cd forward and reverse on valve.discharge.reference (arrays)."""
    ratio, forward, reverse = _discharge_as_given(valve)
    return ratio, valve.discharge.factor * forward, valve.discharge.factor * reverse


def _discharge_as_given(valve) -> tuple:
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


def _readings(valve):
    """(flow, whether it is blown out of the cylinder) of the bench, forward and reverse. Without
    readings in reverse the coefficients hold both ways."""
    b = valve.discharge.bench
    if b.reverse_flow is None:
        return (b.flow, valve.forward_is_out), (b.flow, valve.forward_is_out)
    return (b.flow, valve.forward_is_out), (b.reverse_flow, not valve.forward_is_out)


def bench_area(valve) -> np.ndarray:
    """Reference area, m2, of all valves of the port together at the lifts of the bench."""
    d, lift = valve.discharge, np.array(valve.discharge.bench.lift)
    geometry = (valve.diameter, valve.seat_width, valve.seat_angle, valve.stem)
    return valve.count * reference_area(d.reference, lift, *geometry)


def valve_tables(valve, opens: float, closes: float):
    """Effective areas forward and reverse, m2, of all valves together, and the table's offset."""
    lift = lift_curve(valve, opens, closes)
    ratio, *coefficients = discharge_tables(valve)
    tables = [
        valve.count
        * effective_area(
            lift,
            ratio,
            cd,
            valve.discharge.reference,
            valve.diameter,
            valve.seat_width,
            valve.seat_angle,
            valve.stem,
        )
        for cd in coefficients
    ]
    return tables[0], tables[1], opens - TABLE_LEAD


def open_window(valve, opens: float, closes: float) -> tuple[float, float]:
    """First and last table angle, degrees, between which the valve is off its seat."""
    lifted = np.flatnonzero(lift_curve(valve, opens, closes) > 0.0)
    start = opens - TABLE_LEAD
    return start + TABLE_ANGLES[lifted[0] - 1], start + TABLE_ANGLES[lifted[-1] + 1]
