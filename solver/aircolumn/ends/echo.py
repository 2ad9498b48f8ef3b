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
- the runner's air takes the pressure change as a wave that its mouth sees as A/a (acoustic
  impedance of a duct, Kinsler & Frey), until it is filled: the flow into the plenum changes by

      -(A/a) (d - x),   dx/dt = (d - x) / (L/a),   d = p - p'

  which for slow changes is the runner's own capacity A L / a^2.

In the periodic cycle p = p' at every firing, so neither changes the answer; both vanish.

Flow and pressure are remembered as amounts per degree in bins of one degree and given back by
straight lines between the bins' middles, which keeps the total of a cycle.
"""

from math import sqrt

from aircolumn.compiled import inlined
from aircolumn.cylinder.crank import within_cycle

BINS = 720
ROWS = 5  # of what is remembered: mass, energy, fuel, burned gas, and the plenum's pressure
PRESSURE = 4
MOST_RATIO = 1.5  # of p/p', either way


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
        for q in range(ROWS):
            flow[q, i] = (kept if fresh else 1.0) * flow[q, i] + share * amounts[q]
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
    ``angle`` while its pressure is ``p``, and the sum of their differences p - p', Pa."""
    mass, energy, fuel, burned, off = 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(phases.size):
        at = angle - phases[k]
        before = recall(flow, at, PRESSURE)
        if before > 0.0:
            ratio = min(max(p / before, 1.0 / MOST_RATIO), MOST_RATIO)
            mass += ratio * recall(flow, at, 0)
            energy += ratio * recall(flow, at, 1)
            fuel += ratio * recall(flow, at, 2)
            burned += ratio * recall(flow, at, 3)
            off += p - before
    return mass, energy, fuel, burned, off


@inlined
def answer(off, lag, area, count, box, v, dt):
    """Mass that the other runners pass into the plenum ``v`` in ``dt`` in answer to ``off``, kg;
    implicit in the plenum's own pressure (area: of one mouth, count: mouths)."""
    a = sqrt(box.gamma[v] * box.p[v] / box.rho[v])
    stiffness = count * area * a / box.volume[v]
    return -area / a * (off - lag) * dt / (1.0 + stiffness * dt)
