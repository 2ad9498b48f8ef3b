"""Ends whose pressure follows a signal over time, such as one that was measured in a pipe.

The static pressure p(t) at the end node is the signal's; the wave that arrives there gives the velocity by
its relation p + Z v = K (duct/characteristics.py). Gas that comes in has the entropy of a stated state,
rho = rho0 (p / p0)^(1/gamma): cut off a pipe at a place where the pressure was recorded, put the record
there, and the flow behind it is as it was, as long as the gas that came from beyond had one entropy. Flow
through the end is at most sonic; where p(t) asks for more, the pressure is what the wave leaves there.

Such an end sends back what reaches it, as an open end does. What a record has wrong (its level, its noise,
its time) therefore stays in the pipe, and rings at the pipe's own tones: record where something damps them,
such as an open mouth, a throat or an engine, stands in the part that is computed.
"""

from math import floor, sqrt

from aircolumn.flow.arrays.blocks import ends_of, gas_of, nodes_at, signals_of
from aircolumn.flow.compiled.decorators import inlined, routine
from aircolumn.flow.gas.kernels import gamma


@routine
def signal_value(net, row, time):
    """A signal at ``time``, s: by straight lines; before its beginning and after its end as there, unless
    it repeats."""
    signals = signals_of(net)
    times, values, period = signals.time, signals.value, signals.period[row]
    last = times.shape[1] - 1
    t = time - times[row, 0]
    if period > 0.0:
        t -= period * floor(t / period)
    t += times[row, 0]
    if t <= times[row, 0]:
        return values[row, 0]
    if t >= times[row, last]:
        return values[row, last]
    low, high = 0, last
    while high - low > 1:  # times[low] <= t < times[high]
        middle = (low + high) // 2
        if times[row, middle] <= t:
            low = middle
        else:
            high = middle
    share = (t - times[row, low]) / (times[row, high] - times[row, low])
    return values[row, low] + share * (values[row, high] - values[row, low])


@inlined
def entering(net, end, w, p, target):
    """End node whose gas comes in at inward speed ``w``, with the entropy of the end's stated state."""
    gas, ends, nodes = gas_of(net), ends_of(net), nodes_at(net, target)
    node, burned = ends.node[end], ends.burned[end]
    constant = gas.Ra + burned * (gas.Rb - gas.Ra)
    g = gamma(gas, 0.0, burned, ends.p[end] / (ends.rho[end] * constant))
    rho = ends.rho[end] * (p / ends.p[end]) ** (1.0 / g)
    nodes.u[node], nodes.p[node], nodes.rho[node] = -w * ends.side[end], p, rho
    nodes.yf[node], nodes.yb[node], nodes.gamma[node] = 0.0, burned, g
    nodes.a[node] = sqrt(g * p / rho)
