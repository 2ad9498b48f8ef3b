"""The march itself: steps until a time is reached, recorded on the way."""

from math import sqrt

from aircolumn.flow.arrays.blocks import (
    ANGLE,
    CONTENTS,
    FRESH,
    MARCHED,
    OLD,
    RATE,
    RATE_OLD,
    STARTED,
    TIME,
    clock_of,
    gas_of,
    mesh_of,
    nodes_at,
    orifices_in,
    orifices_of,
    places_in,
    states_of,
    volumes_in,
    volumes_of,
)
from aircolumn.flow.arrays.ends import CYLINDER, VESSEL
from aircolumn.flow.compiled.decorators import entry, inlined, routine
from aircolumn.flow.cylinder.filling import at_ivc, move_pistons, own_rates, update_states
from aircolumn.flow.duct.conservation import finish_nodes
from aircolumn.flow.march.step import highest_rate, step

DONE, NOT_FINITE, FULL_RECORD = 0, 1, 2
LOST = 1e12  # 1/s: no sound state is so fast
VESSEL_STEPS = 10.0  # in the time in which sound through an orifice renews a vessel


@routine
def record_step(net, probes, row):
    """One row of the record: time, angle, then rho, u, p, a, yf, yb at each probe, then p, T, m."""
    old, states, clock = nodes_at(net, OLD), states_of(net), clock_of(net)
    row[0] = clock[TIME]
    row[1] = clock[ANGLE]
    n = 2
    for i in range(probes.size):
        j = probes[i]
        row[n] = old.rho[j]
        row[n + 1] = old.u[j]
        row[n + 2] = old.p[j]
        row[n + 3] = old.a[j]
        row[n + 4] = old.yf[j]
        row[n + 5] = old.yb[j]
        n += 6
    for v in range(volumes_in(net)):
        row[n] = states.p[v]
        row[n + 1] = states.temperature[v]
        row[n + 2] = states.rho[v] * states.volume[v]
        n += 3


@routine
def start_states(net, omega):
    """Make nodes, volumes and rates consistent with the initial contents."""
    vols, clock = volumes_of(net), clock_of(net)
    finish_nodes(gas_of(net), nodes_at(net, OLD), places_in(net) - 1)
    move_pistons(net, clock[ANGLE])
    update_states(net, CONTENTS)
    for v in range(volumes_in(net)):
        if vols.kind[v] == CYLINDER and clock[STARTED] == FRESH:
            at_ivc(net, v)
    own_rates(net, RATE_OLD, clock[ANGLE], omega)
    clock[STARTED] = MARCHED


@inlined
def vessel_rate(net):
    """Largest rate, 1/s, at which sound through its orifices renews a vessel, a A / V, times
    VESSEL_STEPS.

    Their flow goes with the root of the pressure difference and is explicit in time: near balance
    it swings by gamma/2 (a A dt / V)^2 of the pressure, under half a per cent for ten steps."""
    orifices, states, vols = orifices_of(net), states_of(net), volumes_of(net)
    worst = 0.0
    for o in range(orifices_in(net)):
        for v in (orifices.first[o], orifices.second[o]):
            if vols.kind[v] == VESSEL:
                a = sqrt(states.gamma[v] * states.p[v] / states.rho[v])
                worst = max(worst, VESSEL_STEPS * a * orifices.area[o] / states.volume[v])
    return worst


@inlined
def sound_volumes(net):
    """Whether every volume has a state."""
    states = states_of(net)
    sound = True
    for v in range(volumes_in(net)):
        sound = sound and states.p[v] > 0.0 and states.temperature[v] > 0.0  # never with NaN
    return sound


@routine
def rate_now(net):
    """Rate, 1/s, that limits the time step: the largest (|u| + a) / dx, or that of a small vessel
    with a wide orifice. Beyond all bounds where any state is not a number."""
    if not sound_volumes(net):
        return LOST
    rate = highest_rate(mesh_of(net), nodes_at(net, OLD), places_in(net) - 1)
    if not rate < LOST:
        return LOST
    return max(rate, vessel_rate(net))


@entry(
    "int64",
    "boolean",
    "boolean",
    "float64",
    "float64",
    "float64",
    "int64[::1]",
    "float64[:,::1]",
    "int64",
    kept=True,
)
def advance(net, conservative, has_walls, omega, stop_time, courant, probes, record, max_steps):
    """March to ``stop_time`` (s) at constant ``omega`` (rad/s); lands on it exactly.

    net: the table of the blocks (arrays/blocks.py). courant: largest Courant number aimed at. probes:
    node places recorded at every step into ``record`` (rows x columns; zero rows: no record).
    Returns (DONE | NOT_FINITE | FULL_RECORD, rows written).
    """
    clock = clock_of(net)
    if clock[STARTED] != MARCHED:
        start_states(net, omega)
    rows = 0
    count = 0
    while clock[TIME] < stop_time:
        rate = rate_now(net)
        if not rate < LOST:
            return NOT_FINITE, rows
        if count == max_steps:
            return FULL_RECORD, rows
        if record.shape[0] > 0:
            if rows == record.shape[0]:
                return FULL_RECORD, rows
            record_step(net, probes, record[rows])
            rows += 1
        # The speeds are known at the start of the step only: allow for their recent growth.
        growth = rate / clock[RATE] if clock[RATE] > 0.0 else 1.0
        dt = courant / (rate * min(max(growth, 1.0), 1.5))
        left = stop_time - clock[TIME]
        lands = dt >= left
        step(net, conservative, has_walls, left if lands else min(dt, 0.5 * left), omega)
        if lands:
            clock[TIME] = stop_time
        clock[RATE] = rate
        count += 1
    return DONE, rows
