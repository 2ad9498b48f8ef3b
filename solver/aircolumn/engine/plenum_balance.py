"""The plenum's contents, moved to where they are bound from cycle to cycle.

They are renewed only once in several cycles, or in hundreds behind a nearly shut throttle. When
their changes die out as a geometric series, they are moved to where it ends (Aitken's
extrapolation), otherwise to where what comes in through the throttle balances what the engine draws
(a Newton step whose slope is learnt from what the last move did).
"""

import numpy as np

from aircolumn.arrays.ends import RESERVOIR
from aircolumn.description.models import Engine
from aircolumn.ends.nozzle import mass_flux
from aircolumn.network.run import Run

# The plenum is moved at most this often, by at most this share of what it holds; as a series only
# while its change per cycle exceeds JUMP_FROM of the charge (smaller changes are noise of the step
# sequence and form no series).
MOST_JUMPS, MOST_JUMP, JUMP_FROM = 40, 0.3, 1e-4
MOVE_FROM = 1.6  # times the tolerance: nearer to its balance the plenum gets there by itself
SLOPES = (1.0, 10.0)
GAMMA = 1.4


def refill(run: Run, before: np.ndarray, after: np.ndarray):
    """Make the plenum hold ``after`` (mass, energy, fuel, burned) in place of ``before``: in a log,
    everywhere in the same proportion."""
    net = run.network
    if net.PLENUM in net.volumes:
        run.blocks.volumes[0, run.volume(net.PLENUM), :4] = after
        return
    more = np.divide(after, before, out=np.ones(4), where=before > 0.0)
    for duct in (run.ducts[name] for name in net.logs):
        for name, factor in zip(("mass", "energy", "fuel", "burned"), more, strict=True):
            getattr(run.cells, name)[duct.inside] *= factor
        run.cells.momentum[duct.inside] *= more[0]
        nodes = run.nodes
        nodes.rho[duct.nodes] *= more[0]
        nodes.p[duct.nodes] *= more[1]
        nodes.a[duct.nodes] *= (more[1] / more[0]) ** 0.5
        for share, factor in ((nodes.yf, more[2]), (nodes.yb, more[3])):
            share[duct.nodes] *= factor / more[0]


class Plenum:
    """Watches the plenum's contents from cycle to cycle and moves them to where they are bound: the
    end of a geometric series, or the balance of what comes in with what is drawn."""

    def __init__(self, engine: Engine, run: Run, within: float):
        self.run, net = run, run.network
        plenum = net.volumes.get(net.PLENUM)
        self.fixed = not net.logs if plenum is None else plenum.kind == RESERVOIR
        self.source, self.within = engine.intake.source, within
        self.outlet = engine.exhaust.outlet.pressure or engine.intake.ambient.pressure
        self.residual = 1.0 / (GAMMA * (engine.block.compression_ratio - 1.0))
        self.changes: list[np.ndarray] = []
        self.shares: list[np.ndarray] = []
        self.jumps = 0
        self.off = np.zeros(2)  # relative distance of mass and energy from their balance
        # Of the balance's own answer to a move over the one the Newton step counts on (pulsation
        # through the throttle renews the plenum faster than the mean flow), and the last move.
        self.slope = np.ones(2)
        self.moved: tuple[np.ndarray, np.ndarray] | None = None

    def watch(self, before, after, pressure: float):
        """Take note of a cycle and its mean plenum pressure (Pa)."""
        if self.fixed:
            return
        held = after.plenum
        self.changes.append((held - before.plenum)[:2])
        self.shares.append(held[2:] / held[0])
        self.off = self._off_balance(before, after, pressure)

    def move(self, after) -> bool:
        """Move the contents, if it is clear where to."""
        if self.fixed or len(self.changes) < 3 or self.jumps == MOST_JUMPS:
            return False
        held = after.plenum.copy()
        self._learn()
        jump = self._one_series(JUMP_FROM * after.trapped_mass.sum())
        if jump is not None and np.abs(jump / held[:2]).max() < self.within:
            return False  # it is there in a cycle or two
        if jump is None and np.abs(self.off / self.slope).max() > MOVE_FROM * self.within:
            jump = self.off / self.slope * held[:2]
        if jump is None and np.abs(self._last_shares() - self.shares[-1]).max() > self.within:
            jump = np.zeros(2)
        if jump is None:
            return False
        jump *= min(1.0, MOST_JUMP / max(np.max(np.abs(jump) / held[:2]), MOST_JUMP))
        self.moved = jump / held[:2], self.off
        held[:2] += jump
        held[2:] = held[0] * self._last_shares()
        refill(self.run, after.plenum, held)
        self.changes.clear()
        self.shares.clear()
        self.jumps += 1
        return True

    def _learn(self):
        """Correct the slopes by what the last move did (secant)."""
        if self.moved is None or len(self.changes) > 3:
            return
        jump, before = self.moved
        known = np.abs(jump) > self.within
        slope = (before - self.off) / np.where(known, jump, 1.0)
        self.slope = np.where(known, np.clip(slope, *SLOPES), self.slope)

    def _off_balance(self, before, after, p) -> np.ndarray:
        """Relative changes of mass (m) and energy (e) that balance the cycle (a Newton step).

        With what came in and went out in the cycle, and p ~ E: what comes in goes with p by the
        throttle (exponent s), what is drawn goes with the plenum's density and with
        VE = 1 - (pe/p - 1)/(gamma (r - 1)) (exponent x of p in p VE; Heywood 1988, section 5.6):

            dE + Ein s e - Eout x e = 0,    dM + Min s e - Mout (m + (x - 1) e) = 0
        """
        change = (after.plenum - before.plenum)[:2]
        air = self.run.network.AIR
        came = -(after.contents[air] - before.contents[air])[:2]
        drawn = np.maximum(came - change, 1e-3 * after.plenum[:2])
        s = self._throttle_exponent(p)
        full = (1.0 + self.residual) * p
        x = full / max(full - self.residual * self.outlet, 0.1 * p)
        e = change[1] / (drawn[1] * x - came[1] * s)
        return np.array([(change[0] + came[0] * s * e) / drawn[0] - (x - 1.0) * e, e])

    def _throttle_exponent(self, p) -> float:
        """d ln(flow) / d ln(p) of the throttle, p in the plenum."""
        p0, flux = self.source.pressure, mass_flux
        low = min(p, 0.9999 * p0)
        step = 1e-3 * (p0 - low)
        flows = [flux(p0, 1.0, GAMMA, low + d) for d in (-step, step)]
        return float(np.log(flows[1] / flows[0]) * low / (2.0 * step))

    def _last_shares(self):
        """Shares of fuel and burned gas where their changes end; they follow the flow and do not
        drive it, so each forms a series of its own."""
        first, second, last = self.shares[-3:]
        change, before = last - second, second - first
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.nan_to_num(change / before, nan=0.0)
        ratio = np.where((ratio > 0.4) & (ratio < 0.998), ratio, 0.0)
        return np.clip(last + change * ratio / (1.0 - ratio), 0.0, 1.0)

    def _one_series(self, small):
        """What is still to come of both, if the mass falls by a steady ratio and not by less than
        ``small``; else None."""
        first, second, third = (float(c[0]) for c in self.changes[-3:])
        if min(abs(first), abs(second)) < small:
            return None
        ratios = second / first, third / second
        # The nearer the ratio is to 1, the further the jump: it must be known the better.
        spread = min(0.1 * ratios[1], 0.5 * (1.0 - ratios[1]))
        if not (0.4 < ratios[1] < 0.98 and abs(ratios[1] - ratios[0]) < spread):
            return None
        return self.changes[-1] * ratios[1] / (1.0 - ratios[1])
