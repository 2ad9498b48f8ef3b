"""When a cycle repeats.

With d the change of a quantity from cycle to cycle and r the ratio of successive changes, what is
still to come is about d r / (1 - r). Cycles repeat when neither half the change nor what is still
to come exceeds the tolerance for trapped mass and indicated work (relative; work as that of the
charge the cycle ends with, which some cylinders fire in the next) and the burned shares of charge
and plenum (absolute); what the network stores over the cycle is within the same share of the
charge; mass and energy in the plenum are as near to their balance (plenum_balance.py); the echoes
of a lone cylinder pass as much as it does (that, what the plenum's mass is off its balance, and
what is still to come of charge and work, together within the tolerance); and the pressures at all
nodes are those of a cycle before (root of the mean square): a few figures can agree by chance, a
whole state cannot. That is asked less strictly, by PRESSURES: an exhaust of few cells rings by some
parts in a thousand while what the cylinder breathes repeats within one in ten thousand.

Some engines alternate: hot slugs in the exhaust make every other cycle breathe a little
differently, and refining the mesh does not remove it. If the cycles repeat in pairs within the same
tolerance, the figures are means over the pair, and ``alternation`` says how far the two differ; so
too for three and four cycles. A plenum that is tiny for its engine can ring at a pitch of its own:
cycles then swing by parts of a per cent without a period. Late in the march they are accepted if
the means of WINDOW cycles repeat within the tolerance; the figures are these means.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.model.snapshot import stored
from aircolumn.flow.arrays.cylinders import Cranks
from aircolumn.flow.network.run import Run

if TYPE_CHECKING:
    from aircolumn.engine.model.snapshot import Snapshot

LEAST_CYCLES = 3  # two changes, and so their ratio
LEAST_CHARGE, LEAST_PRESSURE = 0.2, 1e5  # kg/kg of a full cylinder, Pa
# What echoes pass wrongly shifts the whole charge: stricter by so much.
STRICT = 2.0
PRESSURES = 6.0  # times the tolerance
NOISE = 0.02  # of the tolerance: smaller changes are noise of the step sequence
LEAST_TO_COME = 0.5  # of the last change, however fast changes seem to die away
# ... and where only two changes are known: what is accounted has fired the charge of the cycle before.
FEW_TO_COME = 2.0
LEAST_FIRED = 1e-3  # of the charge's fuel: less is none
# Repetition over so many cycles is accepted, over more than one only after many cycles.
PERIODS, PAIRS_FROM = (1, 2, 3, 4), 14
#: What repeats, as messages call it: four that die away from cycle to cycle, and what is looked at as it is.
SERIES = ("trapped mass", "work", "residual", "burned gas in the plenum")
LOOKED_AT = (
    "mass in the plenum",
    "energy in the plenum",
    "stored mass",
    "flow of the other cylinders",
    "pressure along the ducts",
)
# Cycles that swing a little without a period are averaged over WINDOW of them, late in the march.
WINDOW, MOST_SWING, AVERAGE_FROM = 16, 0.01, 40


def _along(change: np.ndarray, before: np.ndarray) -> np.ndarray:
    """Ratio of each row to the row before, over all cylinders."""
    return np.sum(change * before, axis=1, keepdims=True) / np.sum(before * before, axis=1, keepdims=True)


class CycleConvergence:
    """Decides whether cycles repeat, one by one or a few together. What it looks at has a row for
    each quantity and a column for each cylinder; each stands for ``copies`` at the plenum."""

    def __init__(self, within: float, run: Run) -> None:
        self.within = within
        self.copies = 1 + run.blocks.echo_phases.size
        self.mouth = run.blocks.echo_links[0]
        # Mass and work are judged relative to themselves; where they are less, to a charge of
        # LEAST_CHARGE and a mean pressure of LEAST_PRESSURE.
        swept = run.blocks.cranks[Cranks._fields.index("swept")]
        air = run.states.rho[run.volume(run.network.AIR)]
        self.least = np.array([LEAST_CHARGE * swept * air, LEAST_PRESSURE * swept])
        ratio = run.chambers.air_fuel_ratio
        self.per_air = np.divide(1.0, ratio, out=np.zeros(ratio.size), where=ratio > 0.0)
        self.history: list[np.ndarray] = []
        self.cycles, self.judged_from = 0, LEAST_CYCLES
        self.undisturbed = 0  # cycles since the start or the last move
        self.snapshots: Sequence[Snapshot] = ()  # of the last cycles looked at
        self.plenum_off = np.zeros(2)

    def goes_on(self, history: Sequence[np.ndarray], judged_from: int) -> None:
        """From a march before: its last cycles count as cycles before. judged_from: how many of
        this one are marched before it is judged."""
        self.history, self.judged_from = list(history), judged_from

    def moved(self) -> None:
        """The plenum was moved: the next change is not the cycle's own."""
        self.undisturbed = 0

    def period(self, snapshots: Sequence[Snapshot], plenum_off: np.ndarray) -> int:
        """Add the last cycle; the period if the cycles repeat, else 0. plenum_off: how
        far mass and energy of the plenum are from their balance (relative)."""
        before, after = snapshots[-2:]
        # Some cylinders fire with the charge of the cycle before. Their work lags behind it, which
        # is taken out here: the work is that with the charge the cycle ends with.
        fuel, burned_fuel = after.trapped_air * self.per_air, after.burned_fuel - before.burned_fuel
        fired = burned_fuel > LEAST_FIRED * fuel
        work = (after.work - before.work) * np.where(fired, fuel, 1.0)
        work /= np.where(fired, burned_fuel, 1.0)
        self.cycles += 1
        self.undisturbed += 1
        mass, _, _, burned = after.plenum
        share = np.full_like(work, burned / mass if mass > 0.0 else 0.0)
        self.history.append(np.array([after.trapped_mass, work, after.residual, share]))
        self.plenum_off, self.snapshots = plenum_off, snapshots
        for period in PERIODS:
            if self._settled(snapshots, period):
                return period
        return WINDOW if self._steady_on_average(snapshots) else 0

    def _steady_on_average(self, snapshots: Sequence[Snapshot]) -> bool:
        """Whether the last WINDOW cycles swing by no more than MOST_SWING and have the means of as
        many before them."""
        if self.undisturbed < AVERAGE_FROM or len(snapshots) <= 2 * WINDOW:
            return False
        late, early = (np.array(self.history[-k:][:WINDOW]) for k in (WINDOW, 2 * WINDOW))
        scale = self._scale(late.mean(axis=0))
        moved = np.abs(late.mean(axis=0) - early.mean(axis=0)) / scale
        swing = np.ptp(late, axis=0) / scale
        before, after = snapshots[-1 - WINDOW], snapshots[-1]
        charge = WINDOW * late[0, 0].sum()
        held = abs(stored(before, after, "mass")) / (self.copies * charge)
        echo_error = abs(self._echo_mass_error(before, after)) / charge
        small = max(moved.max(), held, echo_error, *np.abs(self.plenum_off))
        return bool(swing.max() <= MOST_SWING and small <= self.within)

    def _scale(self, values: np.ndarray) -> np.ndarray:
        """What changes of ``values`` (rows as in history) are relative to."""
        scale = np.abs(values)
        scale[:2] = np.maximum(scale[:2], self.least)
        scale[2:] = 1.0  # shares of burned gas: absolute
        return scale

    def _settled(self, snapshots: Sequence[Snapshot], period: int) -> bool:
        """Whether each of the last ``period`` cycles repeats the ones that many cycles before."""
        if self.cycles < self.judged_from or (period > 1 and self.undisturbed < PAIRS_FROM + 3 * period):
            return False
        looked_at = self._looked_at(snapshots, period)
        if not all(value <= self.within for value in looked_at.values()):
            return False
        return all(value <= self.within for value in self._still_to_come(period, looked_at).values())

    def _looked_at(self, snapshots: Sequence[Snapshot], period: int) -> dict[str, float]:
        """How far the last ``period`` cycles are from repeating, in what is looked at as it is."""
        before, after = snapshots[-1 - period], snapshots[-1]
        charge = self.history[-1][0].sum()
        mass_off, energy_off = np.abs(self.plenum_off)
        errors = (
            mass_off,
            energy_off,
            abs(stored(before, after, "mass") / (self.copies * charge)),
            abs(STRICT * self._echo_mass_error(before, after) / (period * charge)),
            np.sqrt(np.mean((after.pressures / before.pressures - 1.0) ** 2)) / PRESSURES,
        )
        return dict(zip(LOOKED_AT, map(float, errors), strict=True))

    def _still_to_come(self, period: int, looked_at: dict[str, float]) -> dict[str, float]:
        """What the series of cycles still have to change. What echoes pass wrongly, and the mass the
        plenum is off its balance, move charge and work besides."""
        scale = self._scale(self.history[-1])
        coming = [self._coming(self.history[-1 - k :: -period][:5], scale) for k in range(period)]
        besides = looked_at["flow of the other cylinders"] + looked_at["mass in the plenum"]
        most = np.max(coming, axis=(0, 2)) + np.array([besides, besides, 0.0, 0.0])
        return dict(zip(SERIES, map(float, most), strict=True))

    def _echo_mass_error(self, before: Snapshot, after: Snapshot) -> float:
        """What each echo passed less what the computed cylinder did, kg."""
        if self.copies == 1:
            return 0.0
        own = (after.ends - before.ends)[self.mouth, 0]
        return (after.echo[0] - before.echo[0]) / (self.copies - 1) - own

    def _coming(self, series: Sequence[np.ndarray], scale: np.ndarray) -> np.ndarray:
        """What is still to come, from the last three to five values, newest first (relative). The
        ratio is that of all cylinders' changes (projected): one alone may happen to start small."""
        changes = [(a - b) / scale for a, b in pairwise(series)]
        with np.errstate(divide="ignore", invalid="ignore"):
            ratios = [
                np.clip(np.nan_to_num(_along(a, b), nan=0.0, posinf=0.99, neginf=0.0), 0.0, 0.99)
                for a, b in pairwise(changes)  # alternating changes do not add up
            ]
        change = changes[0]
        ratio = np.median(ratios, axis=0) if ratios else np.zeros(1)  # one ratio alone may be noise
        change = np.abs(change)
        # Changes far below the tolerance are noise: their ratio says nothing.
        least = LEAST_TO_COME if len(series) > 3 else FEW_TO_COME
        still = np.maximum(least, ratio / (1.0 - ratio))
        return np.where(change < NOISE * self.within, change, change * still)

    def describe(self) -> str:
        """What still changes, for a message."""
        if self.cycles < self.judged_from:
            return "too few cycles to tell"
        looked_at = self._looked_at(self.snapshots, 1)
        remaining = {**self._still_to_come(1, looked_at), **looked_at}
        name = max(remaining, key=lambda n: remaining[n])
        return f"{name} is still off by about {remaining[name]:.2g}"
