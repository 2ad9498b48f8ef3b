"""The other cylinders of the engine, when only one is computed.

With equal runners every cylinder does in its turn what the computed one does. What flows through
the mouth of the computed cylinder's runner is therefore remembered against crank angle, and the
plenum gives and takes the same again at the firing interval of each other cylinder. At the periodic
cycle this is the whole manifold with equal runners and separate exhausts; while the march still
converges, an echo is at most one cycle old.

The flow is remembered as amounts per degree in bins of one degree and given back by straight lines
between the bins' middles, which keeps the total of a cycle.
"""

from aircolumn.compiled import inlined
from aircolumn.cylinder.crank import within_cycle

BINS = 720


@inlined
def remember(flow, amounts, start, stop):
    """Spread the four ``amounts`` of a step from crank angle ``start`` to ``stop`` over the bins.

    A bin entered at its lower edge forgets what it held a cycle before.
    """
    per_degree = 1.0 / (stop - start)
    at = start
    while at < stop:
        edge = min(float(int(at) + 1), stop)
        i = int(at) % BINS
        share = (edge - at) * per_degree
        fresh = at == float(int(at))
        for q in range(4):
            flow[q, i] = (0.0 if fresh else flow[q, i]) + share * amounts[q]
        at = edge


@inlined
def echoed(flow, phases, angle, q):
    """Amount ``q`` per degree that the other cylinders pass into the plenum at ``angle``."""
    total = 0.0
    for k in range(phases.size):
        x = within_cycle(angle - phases[k] - 0.5)
        i = min(int(x), BINS - 1)
        low, high = flow[q, i], flow[q, i + 1 if i + 1 < BINS else 0]
        total += low + (x - i) * (high - low)
    return total
