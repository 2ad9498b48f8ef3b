"""The other cylinders of the engine, when only one is computed.

With equal runners, fired evenly, every cylinder does in its turn what the computed one does. What
flows through the mouth of the computed cylinder's runner is therefore remembered against crank
angle, and the plenum gives and takes the same again at the firing interval of each other cylinder.
At the periodic cycle this is the whole manifold with equal runners and separate exhausts; while the
march still converges, an echo is at most one cycle old.

A flow that only repeats would be deaf: it would not give way when the plenum's pressure p differs
from the pressure p' at which it was remembered, and a plenum that nothing else holds (throttle part
closed) would swing up. So echoes answer the difference, as the runners they stand for would:

- what is drawn goes with the density it is drawn from: the remembered flow times p/p';
- the difference d = p - p' runs down the runner as a wave f and returns from its other end after
  2 L/a as g, reflected by a shut valve (REFLECTED; an open one swallows it), as in a duct's linear
  acoustics (Kinsler & Frey): d = f + g, and the flow into the plenum changes by -(A/a)(f - g).
  At the runner's resonances that is much. Its mean over SLOW degrees is left out: a runner takes no
  steady flow for being at another pressure.

In the periodic cycle p = p' at every firing, so neither changes the answer; both vanish.

Flow and pressure are remembered as amounts per degree in bins of one degree and given back by
straight lines between the bins' middles, which keeps the total of a cycle.
"""

import numpy as np

from aircolumn.flow.arrays.ends import BURNED, ENERGY, FUEL, MASS
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.compiled.lookup import table_value, within_cycle

BINS = 720
#: Rows of what is remembered: mass, energy, fuel, burned gas, the plenum's pressure; and from WAVES
#: on the wave f of each other cylinder's runner, Pa.
PRESSURE, WAVES = np.int64(4), 5
MOST_RATIO = 1.5  # of p/p'
MOST_DRAWN = 0.3  # of what the plenum holds, in a step
REFLECTED = 0.8
SLOW = 360.0  # deg: what changes over more than this is left to the density's ratio


@inlined
def remember(flow, amounts, start, stop, relaxation):
    """Spread the ``amounts`` of a step from crank angle ``start`` to ``stop`` over the bins.

    A bin entered at its lower edge forgets what it held a cycle before, but for the share ``relaxation``.
    """
    per_degree = (1.0 - relaxation) / (stop - start)
    at = start
    while at < stop:
        edge = min(float(int(at) + 1), stop)
        i = int(at) % BINS
        share = (edge - at) * per_degree
        fresh = at == float(int(at))
        for q in range(WAVES):
            flow[q, i] = (relaxation if fresh else 1.0) * flow[q, i] + share * amounts[q]
        at = edge


@inlined
def write_down(flow, row, value, start, stop):
    """Let ``row`` hold ``value`` from crank angle ``start`` to ``stop`` (mean over each bin)."""
    at = start
    while at < stop:
        edge = min(float(int(at) + 1), stop)
        i = int(at) % BINS
        fresh = at == float(int(at))
        flow[row, i] = (0.0 if fresh else flow[row, i]) + (edge - at) * value
        at = edge


@inlined
def place(angle):
    """(bin, next bin, share of the next) at ``angle``."""
    x = within_cycle(angle - 0.5)
    i = min(int(x), BINS - 1)
    return i, i + 1 if i + 1 < BINS else 0, x - i


@inlined
def at(flow, where, q):
    """Amount ``q`` per degree remembered at a place."""
    i, k, share = where
    return flow[q, i] + share * (flow[q, k] - flow[q, i])


@inlined
def recall(flow, angle, q):
    """Amount ``q`` per degree remembered at ``angle``."""
    return at(flow, place(angle), q)


@inlined
def all_four(flow, angle):
    """Mass, energy, fuel and burned gas per degree remembered at ``angle``."""
    where = place(angle)
    mass, energy = at(flow, where, MASS), at(flow, where, ENERGY)
    return mass, energy, at(flow, where, FUEL), at(flow, where, BURNED)


@inlined
def between(flow, start, stop):
    """Mass, energy, fuel and burned gas remembered from crank angle ``start`` to ``stop``: the
    exact integral of the straight lines, also for steps of several degrees."""
    mass, energy, fuel, burned = 0.0, 0.0, 0.0, 0.0
    here = start
    m, e, f, b = all_four(flow, start)
    while here < stop:
        edge = min(float(np.floor(here + 0.5)) + 0.5, stop)
        if edge <= here:  # at the middle of a bin
            edge = min(here + 1.0, stop)
        m2, e2, f2, b2 = all_four(flow, edge)
        half = 0.5 * (edge - here)
        mass += half * (m + m2)
        energy += half * (e + e2)
        fuel += half * (f + f2)
        burned += half * (b + b2)
        here, m, e, f, b = edge, m2, e2, f2, b2
    return mass, energy, fuel, burned


@routine
def echo(flow, phases, count, start, stop, p, h, yf, yb):
    """(mass, energy, fuel, burned) that the other cylinders pass into the plenum between two crank
    angles while its pressure is ``p``; what they draw has its enthalpy ``h`` and composition."""
    mass, energy, fuel, burned = 0.0, 0.0, 0.0, 0.0
    for k in range(count):
        first, last = start - phases[k], stop - phases[k]
        before = recall(flow, 0.5 * (first + last), PRESSURE)
        if before <= 0.0:
            continue
        m, e, f, b = between(flow, first, last)
        if m < 0.0:  # what is pushed back does not ask for the plenum's pressure
            m *= min(p / before, MOST_RATIO)
            e, f, b = m * h, m * yf, m * yb
        mass += m
        energy += e
        fuel += f
        burned += b
    return mass, energy, fuel, burned


@inlined
def returned(flow, valves, row, phases, k, angle, travel):
    """The wave g that comes back to the mouth of echo ``k``'s runner at ``angle``; travel: degrees
    to the valve and back; row: of the intake valve's area tables."""
    at_valve = angle - 0.5 * travel - phases[k] - valves.offset[row]
    is_open = table_value(valves.out_of_cylinder, row, at_valve) > 0.0
    return 0.0 if is_open else REFLECTED * recall(flow, angle - travel, WAVES + k)


@routine
def answer_echoes(flow, valves, row, phases, count, angle, p, travel):
    """Sum of (f - g) over the echoes, Pa: what drives their answer to the plenum's pressure."""
    total = 0.0
    for k in range(count):
        before = recall(flow, angle - phases[k], PRESSURE)
        if before > 0.0:
            total += p - before - 2.0 * returned(flow, valves, row, phases, k, angle, travel)
    return total


@routine
def send(flow, valves, row, phases, count, start, stop, p, travel):
    """Note the waves that set out into the runners between two crank angles."""
    angle = 0.5 * (start + stop)
    for k in range(count):
        before = recall(flow, angle - phases[k], PRESSURE)
        wave = p - before - returned(flow, valves, row, phases, k, angle, travel)
        write_down(flow, WAVES + k, wave if before > 0.0 else 0.0, start, stop)
