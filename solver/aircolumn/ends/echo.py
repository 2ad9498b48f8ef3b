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

from aircolumn.compiled import inlined
from aircolumn.cylinder.crank import within_cycle
from aircolumn.ends.solve import table_value

BINS = 720
#: Rows of what is remembered: mass, energy, fuel, burned gas, the plenum's pressure; and from WAVES
#: on the wave f of each other cylinder's runner, Pa.
PRESSURE, WAVES = 4, 5
MOST_RATIO = 1.5  # of p/p', either way
REFLECTED = 0.8
SLOW = 360.0  # deg: what changes over more than this is left to the density's ratio


@inlined
def remember(flow, amounts, start, stop, kept):
    """Spread the ``amounts`` of a step from crank angle ``start`` to ``stop`` over the bins.

    A bin entered at its lower edge forgets what it held a cycle before, but for the share ``kept``.
    """
    per_degree = (1.0 - kept) / (stop - start)
    at = start
    while at < stop:
        edge = min(float(int(at) + 1), stop)
        i = int(at) % BINS
        share = (edge - at) * per_degree
        fresh = at == float(int(at))
        for q in range(WAVES):
            flow[q, i] = (kept if fresh else 1.0) * flow[q, i] + share * amounts[q]
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
def recall(flow, angle, q):
    """Amount ``q`` per degree remembered at ``angle``."""
    x = within_cycle(angle - 0.5)
    i = min(int(x), BINS - 1)
    low, high = flow[q, i], flow[q, i + 1 if i + 1 < BINS else 0]
    return low + (x - i) * (high - low)


@inlined
def echo(flow, phases, angle, p):
    """(mass, energy, fuel, burned) per degree that the other cylinders pass into the plenum at
    ``angle`` while its pressure is ``p``."""
    mass, energy, fuel, burned = 0.0, 0.0, 0.0, 0.0
    for k in range(phases.size):
        at = angle - phases[k]
        before = recall(flow, at, PRESSURE)
        if before > 0.0:
            ratio = min(max(p / before, 1.0 / MOST_RATIO), MOST_RATIO)
            given = recall(flow, at, 0)
            if given > 0.0:  # what is pushed back does not ask for the plenum's pressure
                ratio = 1.0
            mass += ratio * given
            energy += ratio * recall(flow, at, 1)
            fuel += ratio * recall(flow, at, 2)
            burned += ratio * recall(flow, at, 3)
    return mass, energy, fuel, burned


@inlined
def returned(flow, valves, row, phases, k, angle, travel):
    """The wave g that comes back to the mouth of echo ``k``'s runner at ``angle``; travel: degrees
    to the valve and back; row: of the intake valve's area tables."""
    at_valve = angle - 0.5 * travel - phases[k] - valves.offset[row]
    is_open = table_value(valves.inward, row, at_valve) > 0.0
    return 0.0 if is_open else REFLECTED * recall(flow, angle - travel, WAVES + k)


@inlined
def answer(flow, valves, row, phases, angle, p, travel):
    """Sum of (f - g) over the echoes, Pa: what drives their answer to the plenum's pressure."""
    total = 0.0
    for k in range(phases.size):
        before = recall(flow, angle - phases[k], PRESSURE)
        if before > 0.0:
            total += p - before - 2.0 * returned(flow, valves, row, phases, k, angle, travel)
    return total


@inlined
def send(flow, valves, row, phases, start, stop, p, travel):
    """Note the waves that set out into the runners between two crank angles."""
    angle = 0.5 * (start + stop)
    for k in range(phases.size):
        before = recall(flow, angle - phases[k], PRESSURE)
        wave = p - before - returned(flow, valves, row, phases, k, angle, travel)
        write_down(flow, WAVES + k, wave if before > 0.0 else 0.0, start, stop)
