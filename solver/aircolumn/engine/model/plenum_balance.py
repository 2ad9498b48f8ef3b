"""The plenum's contents, moved to where they are bound from cycle to cycle.

They are renewed only once in several cycles, or in hundreds behind a nearly shut throttle. After
each cycle they are moved to where what comes in through the throttle balances what the engine draws
(a Newton step whose slopes are learnt from the cycles before).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.constants import AIR_GAMMA
from aircolumn.engine.description.engine_file import Engine
from aircolumn.flow.arrays.ends import CALM, RESERVOIR, EndLinks
from aircolumn.flow.ends.nozzle import mass_flux
from aircolumn.flow.network.run import Run

if TYPE_CHECKING:
    from aircolumn.engine.model.snapshot import Snapshot

MOST_JUMPS, MOST_JUMP = 40, 0.3  # how often it is moved; by what share of what it holds, at most
# Times the tolerance: nearer to its balance the plenum gets there by itself. After MANY moves more
# of them only keep a plenum swinging.
MOVE_FROM, MANY, THEN_FROM = 0.4, 12, 1.6
#: Ratios of successive changes that are taken for a series: below, it is soon over; above, its end is a guess
#: (of the plenum's mass and energy, which are moved there; of shares, which only drift there).
SERIES, SERIES_OF_SHARES = (0.4, 0.98), (0.4, 0.998)
JUMP_FROM = 1e-4  # of the charge: smaller changes form no series
LEAST_STEP = 0.5  # times the tolerance: smaller changes are noise of the step sequence
SLOPES = (0.3, 10.0)
# Pressure (energy) and density at a given pressure, of relative changes of mass and energy; back.
MODES = np.array([[0.0, 1.0], [1.0, -1.0]])
UNMIX = np.linalg.inv(MODES)


def refill(run: Run, before: np.ndarray, after: np.ndarray) -> None:
    """Make the plenum hold ``after`` (mass, energy, fuel, burned) in place of ``before``: in a log,
    everywhere in the same proportion.

    A log's end nodes stay as they are: what flows there at the start of the next step is that of
    the runners and the inlet too, and must balance."""
    net = run.network
    if net.PLENUM in net.volumes:
        run.blocks.volumes[0, run.volume(net.PLENUM), :4] = after
        return
    more = np.divide(after, before, out=np.ones(4), where=before > 0.0)
    ends = EndLinks(*run.blocks.end_links).node
    for duct in (run.ducts[name] for name in net.logs):
        for name, factor in zip(("mass", "energy", "fuel", "burned"), more, strict=True):
            getattr(run.cells, name)[duct.inside] *= factor
        run.cells.momentum[duct.inside] *= more[0]
        nodes, inner = run.nodes, np.setdiff1d(duct.nodes, ends)
        nodes.rho[inner] *= more[0]
        nodes.p[inner] *= more[1]
        nodes.e[inner] *= more[1] / more[0]
        nodes.a[inner] *= (more[1] / more[0]) ** 0.5
        for share, factor in ((nodes.yf, more[2]), (nodes.yb, more[3])):
            share[inner] *= factor / more[0]


class PlenumBalance:
    """Watches the plenum's contents from cycle to cycle and moves them to where they are bound.

    The balance of a cycle tells how far mass and energy in its middle were from being bound (a
    Newton step for steady flow). What it leaves out, such as pulsation through the throttle, is in
    two slopes, one for pressure and one for density, learnt from cycle to cycle (secants).
    Where changes too small to tell them die out very slowly, as a geometric series, the plenum is
    moved to its end (Aitken's extrapolation).
    """

    def __init__(self, engine: Engine, run: Run, within: float) -> None:
        self.run, net = run, run.network
        plenum = net.volumes.get(net.PLENUM)
        self.fixed = not net.logs if plenum is None else plenum.kind == RESERVOIR
        if net.ends[net.intake(1), "left"].kind == CALM:  # asked for what-if: nothing is drawn
            self.fixed = True
        self.source, self.within = engine.intake.source, within
        self.outlet = engine.exhaust.outlet.pressure or engine.intake.ambient.pressure
        self.residual = 1.0 / (AIR_GAMMA * (engine.block.compression_ratio - 1.0))
        self.slope = np.ones(2)
        self.tried: list[tuple[np.ndarray, np.ndarray]] = []  # mass and energy, their balance
        self.changes: list[np.ndarray] = []
        self.shares: list[np.ndarray] = []
        self.jumps = 0
        self.imbalance = np.zeros(2)  # relative distance of mass and energy from their balance

    def watch(self, before: Snapshot, after: Snapshot, pressure: float) -> None:
        """Take note of a cycle and its mean plenum pressure (Pa)."""
        if self.fixed:
            return
        held = 0.5 * (before.plenum + after.plenum)[:2]
        self.changes.append((after.plenum - before.plenum)[:2])
        self.shares.append(after.plenum[2:] / after.plenum[0])
        balance = self._off_balance(before, after, pressure)
        self._learn(held, balance)
        self.tried.append((held, balance))
        self.imbalance = UNMIX @ (MODES @ balance / self.slope)

    def move(self, after: Snapshot) -> bool:
        """Move the contents, if they are off."""
        if self.fixed or self.jumps == MOST_JUMPS:
            return False
        shares = self._last_shares()
        mixed = np.abs(shares - self.shares[-1]).max() <= self.within
        near = (MOVE_FROM if self.jumps < MANY else THEN_FROM) * self.within
        held = after.plenum.copy()
        jump = self.tried[-1][0] * (1.0 + self.imbalance) / held[:2] - 1.0
        if np.abs(self.imbalance).max() <= near:
            jump = self._one_series(JUMP_FROM * after.trapped_mass.sum()) / held[:2]
            if mixed and np.abs(jump).max() <= self.within:
                return False
        held[:2] *= 1.0 + jump * min(1.0, MOST_JUMP / max(np.abs(jump).max(), MOST_JUMP))
        held[2:] = held[0] * shares
        if not mixed:
            self.shares.clear()
        self.changes.clear()
        refill(self.run, after.plenum, held)
        self.jumps += 1
        return True

    def _learn(self, held: np.ndarray, balance: np.ndarray) -> None:
        """Correct the slopes by what the last two cycles did (secant)."""
        if not self.tried:
            return
        before, balance_before = self.tried[-1]
        step, answer = MODES @ ((held - before) / held), MODES @ (balance_before - balance)
        known = np.abs(step) > LEAST_STEP * self.within
        slope = np.clip(answer / np.where(known, step, 1.0), *SLOPES)
        # Half of it at a time: other cylinders and hot gas in the exhaust answer a cycle late.
        self.slope = np.where(known, 0.5 * (self.slope + slope), self.slope)

    def _off_balance(self, before: Snapshot, after: Snapshot, p: float) -> np.ndarray:
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

    def _throttle_exponent(self, p: float) -> float:
        """d ln(flow) / d ln(p) of the throttle, p in the plenum."""
        p0 = self.source.pressure
        low = min(p, 0.9999 * p0)
        step = 1e-3 * (p0 - low)
        flows = [mass_flux(p0, 1.0, AIR_GAMMA, low + d) for d in (-step, step)]
        return float(np.log(flows[1] / flows[0]) * low / (2.0 * step))

    def _last_shares(self) -> np.ndarray:
        """Shares of fuel and burned gas where their changes end; they follow the flow and do not
        drive it, so each forms a series of its own."""
        if len(self.shares) < 3:
            return self.shares[-1]
        first, second, last = self.shares[-3:]
        change, before = last - second, second - first
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.nan_to_num(change / before, nan=0.0)
        ratio = np.where((ratio > SERIES_OF_SHARES[0]) & (ratio < SERIES_OF_SHARES[1]), ratio, 0.0)
        return np.clip(last + change * ratio / (1.0 - ratio), 0.0, 1.0)

    def _one_series(self, small: float) -> np.ndarray:
        """What is still to come of mass and energy, if the mass changes by a steady ratio and by
        ``small`` (kg) or more; else nothing."""
        if len(self.changes) < 3:
            return np.zeros(2)
        first, second, third = (float(c[0]) for c in self.changes[-3:])
        if min(abs(first), abs(second)) < small:
            return np.zeros(2)
        ratios = second / first, third / second
        # The nearer the ratio is to 1, the further the jump: it must be known the better.
        spread = min(0.1 * ratios[1], 0.5 * (1.0 - ratios[1]))
        if not (SERIES[0] < ratios[1] < SERIES[1] and abs(ratios[1] - ratios[0]) < spread):
            return np.zeros(2)
        return self.changes[-1] * ratios[1] / (1.0 - ratios[1])
