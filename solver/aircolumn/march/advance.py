"""The march itself: steps until a time is reached, recorded on the way."""

from aircolumn.compiled.decorators import entry, inlined
from aircolumn.cylinder.filling import at_ivc, settle
from aircolumn.duct.conservation import finish_nodes
from aircolumn.ends.arrays import CYLINDER
from aircolumn.march.blocks import (
    ANGLE,
    CONTENTS,
    FRESH,
    MARCHED,
    OLD,
    RATE,
    RATE_OLD,
    STARTED,
    TIME,
    chambers_of,
    cranks_of,
    mesh_of,
    nodes_at,
    volume_states,
    volumes_of,
)
from aircolumn.march.step import highest_rate, step
from aircolumn.march.volumes import rates_now

DONE, NOT_FINITE, FULL_RECORD = 0, 1, 2


@inlined
def record_step(b, probes, record, row):
    """One row of the record: time, angle, then rho, u, p, a, yf, yb at each probe, then p, T, m."""
    old, states = nodes_at(b, OLD), volume_states(b.states)
    record[row, 0] = b.clock[TIME]
    record[row, 1] = b.clock[ANGLE]
    n = 2
    for i in range(probes.size):
        j = probes[i]
        record[row, n] = old.rho[j]
        record[row, n + 1] = old.u[j]
        record[row, n + 2] = old.p[j]
        record[row, n + 3] = old.a[j]
        record[row, n + 4] = old.yf[j]
        record[row, n + 5] = old.yb[j]
        n += 6
    for v in range(states.p.size):
        record[row, n] = states.p[v]
        record[row, n + 1] = states.temperature[v]
        record[row, n + 2] = states.rho[v] * states.volume[v]
        n += 3


@inlined
def settle_start(gas, b, omega):
    """Make nodes, volumes and rates consistent with the initial contents."""
    old, states, chambers = nodes_at(b, OLD), volume_states(b.states), chambers_of(b.chambers)
    vols, cranks = volumes_of(b.volume_links, b.volume_values), cranks_of(b.cranks)
    finish_nodes(gas, old, old.rho.size - 1)
    contents = b.volumes[CONTENTS]
    settle(gas, b.products, vols, cranks, contents, b.clock[ANGLE], states)
    for v in range(vols.kind.size):
        if vols.kind[v] == CYLINDER and b.clock[STARTED] == FRESH:
            at_ivc(gas, vols, chambers, contents, states, v)
    rates_now(b, b.clock[ANGLE], omega, RATE_OLD)
    b.clock[STARTED] = MARCHED


@entry
def advance(
    gas, b, rings, conservative, has_walls, omega, stop_time, courant, probes, record, max_steps
):
    """March to ``stop_time`` (s) at constant ``omega`` (rad/s); lands on it exactly.

    gas: constants; b: the Blocks. rings: None if no ends meet in junctions or steps (their code is
    then not compiled), else 1. courant: largest Courant number aimed at. probes: node places
    recorded at every step into ``record`` (rows x columns; zero rows: no record). Returns
    (DONE | NOT_FINITE | FULL_RECORD, rows written).
    """
    mesh = mesh_of(b.mesh)
    last = b.mesh.shape[1] - 1
    if b.clock[STARTED] != MARCHED:
        settle_start(gas, b, omega)
    rows = 0
    count = 0
    while b.clock[TIME] < stop_time:
        rate = highest_rate(mesh, nodes_at(b, OLD), last)
        if not rate < 1e12:
            return NOT_FINITE, rows
        if record.shape[0] > 0:
            if rows == record.shape[0]:
                return FULL_RECORD, rows
            record_step(b, probes, record, rows)
            rows += 1
        if count == max_steps:
            return FULL_RECORD, rows
        # The speeds are known at the start of the step only: allow for their recent growth.
        growth = rate / b.clock[RATE] if b.clock[RATE] > 0.0 else 1.0
        dt = courant / (rate * min(max(growth, 1.0), 1.5))
        left = stop_time - b.clock[TIME]
        if dt >= left:
            step(gas, b, rings, conservative, has_walls, left, omega)
            b.clock[TIME] = stop_time
        else:
            step(gas, b, rings, conservative, has_walls, min(dt, 0.5 * left), omega)
        b.clock[RATE] = rate
        count += 1
    return DONE, rows
