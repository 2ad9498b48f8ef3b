"""One operating point: march cycles until they repeat, then account for the last one.

A cycle runs from one intake-valve closing to the next. With d the change of a quantity from cycle
to cycle and r the ratio of successive changes, what is still to come is about d r / (1 - r); the
cycle has converged when neither the change nor what is still to come exceeds ``repeat_within`` for
trapped mass, indicated work, mass and energy in the plenum (relative) and the burned shares of
charge and plenum (absolute), what the network stores over the cycle is within the same share of the
charge, the echoes of a lone cylinder pass as much as it does, and the pressures at all nodes are
those of a cycle before within the same share (root of the mean square): a few figures can agree by
chance, a whole state cannot. A point that does not converge, or whose ledger is open by more than
LEDGER_GAP, is an error, never a result.

Some engines alternate: hot slugs in the exhaust make every other cycle breathe a little
differently, and refining the mesh does not remove it. If the cycles repeat in pairs within the same
tolerance, the figures are means over the pair, and ``alternation`` says how far the two differ; so
too for three and four cycles. A plenum that is tiny for its engine can ring at a pitch of its own:
cycles then swing by parts of a per cent without a period. Late in the march they are accepted if
the means of WINDOW cycles repeat within the tolerance; the figures are these means.

Most of the way is marched on a coarse mesh (nested iteration: Hackbusch, Multi-Grid Methods and
Applications, ch. 5): a quarter of the cells takes a tenth of the work a cycle, its cycle differs
from the fine one by less than a per cent, and the fine mesh, started from it, needs three or four
cycles where it would need ten from rest. A point depends on nothing but its engine and speed.

The slowest modes are the plenum's: mass and energy it holds are renewed only once in several
cycles. When their changes die out as a geometric series, the plenum is moved to where it ends
(Aitken's extrapolation), otherwise to where what comes in through the throttle balances what the
engine draws (a Newton step for both, see ``_Plenum``); the cycles after it are marched and judged
like any other.

The echoes of a lone cylinder (ends/echo.py) are remembered anew every cycle. Where that does not
settle, as with a plenum that little holds, they keep a share of the cycle before
(under-relaxation), which changes the way to the periodic cycle and not the cycle.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import pi

import numpy as np

from aircolumn import assembly, march
from aircolumn.cylinder.crank import Cranks
from aircolumn.cylinder.friction import fmep
from aircolumn.description.models import EngineFile
from aircolumn.ends.arrays import CALM, RESERVOIR
from aircolumn.ends.nozzle import mass_flux
from aircolumn.errors import ComputationError
from aircolumn.network import MarchError, Run, gas_constant
from aircolumn.wall_balance import WallBalance

#: name: (unit, what it is); the order in which results are shown and written.
FIGURES = {
    "ve": ("1", "trapped fresh air over swept volume at ambient density"),
    "ve_delivered": ("1", "fresh air through the intake valve over the same reference"),
    "ve_plenum": ("1", "trapped fresh air over swept volume of fresh air at plenum state"),
    "ve_spread": ("1", "largest less smallest VE of the cylinders computed, over their mean"),
    "torque": ("N m", "brake torque of the engine"),
    "power": ("W", "brake power of the engine"),
    "bmep": ("Pa", "brake mean effective pressure"),
    "imep": ("Pa", "net indicated mean effective pressure (all four strokes)"),
    "pmep": ("Pa", "pumping mean effective pressure, positive when it costs work"),
    "fmep": ("Pa", "friction mean effective pressure"),
    "residual": ("1", "burned share of the charge at intake-valve closing"),
    "short_circuit": ("1", "share of the delivered air that leaves through the exhaust valve"),
    "peak_pressure": ("Pa", "highest cylinder pressure"),
    "air_flow": ("kg/s", "air through all intake valves"),
    "fuel_flow": ("kg/s", "fuel for all cylinders"),
    "bsfc": ("kg/J", "fuel flow over brake power"),
    "charge_temperature": ("K", "cylinder temperature at intake-valve closing"),
    "ca50": ("deg", "crank angle after top dead centre at which half is burned"),
    "plenum_pressure": ("Pa", "time-mean plenum pressure"),
    "wall_heat": ("J", "heat to the cylinder walls per cycle and cylinder"),
    "cycles": ("1", "cycles marched until they repeated (full mesh)"),
    "cylinders_computed": ("1", "cylinders computed; if 1, the others repeat it in their turn"),
    "alternation": ("1", "relative difference in trapped air between the cycles of a period, 0 if "
                         "each repeats"),
    "mass_error": ("1", "mass ledger: what is missing, over the air delivered"),
    "energy_error": ("1", "energy ledger: what is missing, over the fuel's energy"),
    "periodicity": ("1", "change of everything held in the network over the last cycle, over the "
                         "air delivered"),
}  # fmt: skip

# The plenum is moved at most this often, and only while its change per cycle exceeds this share of
# the charge: smaller changes are noise of the step sequence and form no series.
MOST_JUMPS = 40
MOST_JUMP = 0.3  # of what the plenum holds
# The plenum may be off its balance by so many times the tolerance (what is drawn passes through it
# with noise of the step sequence); from once the tolerance on it is moved.
PLENUM_ALLOWANCE = 2.0
SLOPES = (1.0, 10.0)
GAMMA = 1.4
JUMP_FROM = 1e-4
# The way to the periodic cycle is marched on a mesh this much coarser, to a tolerance this much
# wider, for at most so many cycles; the fine mesh starts from there.
COARSE, COARSE_REPEAT, COARSE_CYCLES = 0.28, 2.0, 24
PHASING = (-5.0, 35.0)  # deg, where the best burn phasing is searched for
LEAST_CHARGE, LEAST_PRESSURE = 0.2, 1e5  # kg/kg of a full cylinder, Pa
# Largest error of the mass and energy ledgers a point may have; the mesh method does not conserve.
LEDGER_GAP = {"conservative": 1e-6, "mesh": 0.05}
NO_PLENUM = np.array([1.0, 1.0, 0.0, 0.0])  # open air: nothing there changes
# Repetition over so many cycles is accepted, over more than one only after many cycles.
PERIODS, PAIRS_FROM = (1, 2, 3, 4), 14
# Cycles that swing a little without a period are averaged over WINDOW of them, late in the march.
WINDOW, MOST_SWING, AVERAGE_FROM = 16, 0.01, 40
MOST_ECHOED = 60  # cycles of a lone cylinder, before all are computed
# Share of the cycle before that echoes keep, from the so-manieth cycle on a mesh.
KEEPING = ((0, 0.0), (12, 0.5), (28, 0.75))


@dataclass(frozen=True)
class Ledger:
    """Where mass (kg) and energy (J) of the network went in the cycles accounted for."""

    mass: dict
    energy: dict

    @property
    def mass_gap(self) -> float:
        """In, less out, less the change of what is held, kg."""
        return sum(self.mass.values())

    @property
    def energy_gap(self) -> float:
        """The same for energy, J."""
        return sum(self.energy.values())


@dataclass(frozen=True)
class OperatingPoint:
    """Figures (SI, see FIGURES) and ledger of one converged speed (rev/min); ve_cylinder: VE of
    each cylinder computed, in order of cylinder number."""

    rpm: float
    figures: dict
    ledger: Ledger
    ve_cylinder: np.ndarray


def operating_point(engine: EngineFile, rpm: float, refinement: float = 1.0) -> OperatingPoint:
    """March ``engine`` at ``rpm`` (rev/min) to its periodic cycle.

    refinement: 2 halves cells and step. Raises ComputationError if it does not converge.
    """
    return converged(engine, rpm, refinement)[2]


def converged(
    engine: EngineFile, rpm: float, refinement: float = 1.0, change=None, start: Run | None = None
):
    """(engine as it burns at this speed, its run at the end of a periodic cycle, the point).

    change: called with the Network before it is marched, for asking what-if; start: a run of the
    same engine at a speed nearby to start from, instead of a coarse mesh. Other arguments and
    errors as for operating_point.
    """
    if not 0.0 < rpm < 1e5:
        raise ComputationError(f"{rpm} rev/min is not a speed an engine can be marched at")
    if engine.combustion.ca50 is None:
        return _best_phasing(engine, rpm, refinement, change)
    engine = _at_speed(engine, rpm)
    try:
        return _marched(engine, rpm, refinement, change, start)
    except ComputationError:
        if not engine.has_echoes or change is not None:
            raise
    # What the echoes cannot bring to repeat, all cylinders together mostly do.
    engine, run, point = _marched(engine.changed(model="manifold"), rpm, refinement, None, None)
    return engine, run, replace(point, ve_cylinder=point.ve_cylinder.mean(keepdims=True))


def _marched(engine: EngineFile, rpm: float, refinement: float, change, start):
    """As converged, for the model and the burn that ``engine`` states."""
    g = assembly.geometry(engine)
    run = start
    for mesh in (COARSE * refinement, refinement) if start is None else (refinement,):
        network = assembly.build(engine, mesh, rpm)
        if change is not None:
            change(network)
        run = network.ready(g.intake_shuts, run)
        if mesh < refinement:
            run = _approach(engine, run, rpm)
    return engine, run, march_to_cycle(engine, run, rpm, g)


def _approach(engine: EngineFile, run: Run, rpm: float) -> Run | None:
    """March a coarse run near to its periodic cycle; None if it fails (the fine one then starts
    from rest)."""
    within = COARSE_REPEAT * engine.numerics.repeat_within
    try:
        _repeat(engine, run, rpm, within, COARSE_CYCLES)
    except ComputationError:
        return None
    return run


def _with_combustion(engine: EngineFile, **changes) -> EngineFile:
    return engine.changed(combustion=engine.combustion.changed(**changes))


def _at_speed(engine: EngineFile, rpm: float) -> EngineFile:
    """The engine with the burn duration of this speed."""
    c = engine.combustion
    scale = (rpm / c.reference_speed) ** c.speed_exponent
    return _with_combustion(engine, duration_10_90=c.duration_10_90 * scale)


def _best_phasing(engine: EngineFile, rpm: float, refinement: float, change):
    """As converged, burn phased for most torque to half a degree (scipy's bounded search)."""
    from scipy.optimize import minimize_scalar  # slow to load and seldom needed

    tried = {}

    def loss(angle):
        phased = _with_combustion(engine, ca50=float(angle))
        found = converged(phased, rpm, refinement, change)
        tried[float(angle)] = found
        return -found[2].figures["torque"]

    found = minimize_scalar(loss, bounds=PHASING, method="bounded", options={"xatol": 0.5})
    return tried[float(found.x)]


def march_to_cycle(engine: EngineFile, run: Run, rpm: float, g) -> OperatingPoint:
    """March ``run`` until the cycle (or a few cycles together) repeats, and account for it."""
    n = engine.numerics
    most = min(n.most_cycles, MOST_ECHOED) if engine.has_echoes else n.most_cycles
    judge, found = _repeat(engine, run, rpm, n.repeat_within, most)
    if found is None:
        raise ComputationError(
            f"at {rpm:g} rpm the cycle does not repeat within {n.repeat_within:g} after"
            f" {most} cycles ({judge.describe()}); look for an engine description that"
            " cannot breathe, or raise numerics.most_cycles"
        )
    return _account(engine, run, rpm, g, *found)


def _repeat(engine: EngineFile, run: Run, rpm: float, within: float, most: int):
    """March at most ``most`` cycles until they repeat; (judge, (snapshots around the last period,
    cycles marched, mean plenum pressure) or None if they do not)."""
    omega = rpm * pi / 30.0
    judge = _Judge(within, run)
    plenum = _Plenum(engine, run, within)
    walls = WallBalance(run)
    snapshots = [_snapshot(run)]
    pressures = []
    for count in range(1, most + 1):
        kept = next(share for start, share in reversed(KEEPING) if count > start)
        run.blocks.clock[march.KEPT] = max(kept, run.blocks.clock[march.KEPT])
        pressures.append(_march_cycle(run, omega, engine.numerics.courant, rpm))
        snapshots.append(_snapshot(run))
        plenum.watch(*snapshots[-2:], pressures[-1])
        period = judge.period(snapshots, plenum.off / plenum.slope)
        walls.follow(4.0 * pi / omega)
        if period and walls.settled:
            pressure = float(np.mean(pressures[-period:]))
            return judge, (snapshots[-period - 1 :], count, pressure)
        if plenum.move(snapshots[-1]):
            judge.forget()
            snapshots = [_snapshot(run)]
    return judge, None


class _Judge:
    """Decides whether cycles repeat, one by one or a few together. What it looks at has a row for
    each quantity and a column for each cylinder; each stands for ``copies`` at the plenum."""

    def __init__(self, within: float, run: Run):
        self.within = within
        self.copies = 1 + run.blocks.echo_phases.size
        self.mouth = run.blocks.echo_links[0]
        # Mass and work are judged relative to themselves; where they are less, to a charge of
        # LEAST_CHARGE and a mean pressure of LEAST_PRESSURE.
        swept = run.blocks.cranks[Cranks._fields.index("swept")]
        air = run.box.rho[list(run.network.volumes).index("air")]
        self.least = np.array([LEAST_CHARGE * swept * air, LEAST_PRESSURE * swept])
        self.history: list[np.ndarray] = []
        self.left = np.full((9, 1), np.inf)

    def forget(self):
        """Start again after the state was moved."""
        self.history.clear()

    def period(self, snapshots, plenum_off) -> int:
        """Add the last cycle; the period if the cycles repeat, else 0. plenum_off: how
        far mass and energy of the plenum are from their balance (relative)."""
        before, after = snapshots[-2:]
        work = after["work"] - before["work"]
        mass, _, _, burned = after["inside"].get("plenum", NO_PLENUM)
        share = np.full_like(work, burned / mass)
        self.history.append(np.array([after["trapped_mass"], work, after["residual"], share]))
        self.plenum_off = plenum_off
        for period in PERIODS:
            if self._settled(snapshots, period):
                return period
        return WINDOW if self._steady_on_average(snapshots) else 0

    def _steady_on_average(self, snapshots) -> bool:
        """Whether the last WINDOW cycles swing by no more than MOST_SWING and have the means of as
        many before them."""
        if len(self.history) < AVERAGE_FROM or len(snapshots) <= 2 * WINDOW:
            return False
        late, early = (np.array(self.history[-k:][:WINDOW]) for k in (WINDOW, 2 * WINDOW))
        scale = self._scale(late.mean(axis=0))
        moved = np.abs(late.mean(axis=0) - early.mean(axis=0)) / scale
        swing = np.ptp(late, axis=0) / scale
        before, after = snapshots[-1 - WINDOW], snapshots[-1]
        charge = WINDOW * late[0, 0].sum()
        held = abs(_stored(before, after, "mass")) / (self.copies * charge)
        deaf = abs(self._deafness(before, after)) / charge
        small = max(moved.max(), held, deaf, *(np.abs(self.plenum_off) / PLENUM_ALLOWANCE))
        return bool(swing.max() <= MOST_SWING and small <= self.within)

    def _scale(self, values):
        """What changes of ``values`` (rows as in history) are relative to."""
        scale = np.abs(values)
        scale[:2] = np.maximum(scale[:2], self.least)
        scale[2:] = 1.0  # shares of burned gas: absolute
        return scale

    def _settled(self, snapshots, period: int) -> bool:
        """Whether each of the last ``period`` cycles repeats the ones that many cycles before."""
        if len(self.history) < (3 if period == 1 else PAIRS_FROM + 3 * period):
            return False
        last = self.history[-1]
        scale = self._scale(last)
        coming = [self._coming(self.history[-1 - k :: -period][:5], scale) for k in range(period)]
        stored = _stored(snapshots[-1 - period], snapshots[-1], "mass")
        pressures = [s["pressures"] for s in (snapshots[-1], snapshots[-1 - period])]
        whole = (
            *(off / PLENUM_ALLOWANCE for off in self.plenum_off),
            stored / (self.copies * last[0].sum()),
            self._deafness(snapshots[-1 - period], snapshots[-1]) / (period * last[0].sum()),
            np.sqrt(np.mean((pressures[0] / pressures[1] - 1.0) ** 2)),
        )
        rows = [np.full((1, last.shape[1]), abs(w)) for w in whole]
        left = np.concatenate([np.max(coming, axis=0), *rows])
        if period == 1:
            self.left = left
        return bool(np.all(left <= self.within))

    def _deafness(self, before, after) -> float:
        """What each echo passed less what the computed cylinder did, kg."""
        if self.copies == 1:
            return 0.0
        own = (after["ends"] - before["ends"])[self.mouth, 0]
        return (after["echo"][0] - before["echo"][0]) / (self.copies - 1) - own

    def _coming(self, series, scale):
        """What is still to come, from the last three to five values, newest first (relative)."""
        changes = [(a - b) / scale for a, b in pairwise(series)]
        with np.errstate(divide="ignore", invalid="ignore"):
            ratios = [
                np.clip(np.nan_to_num(a / b, nan=0.0, posinf=0.99, neginf=0.0), 0.0, 0.99)
                for a, b in pairwise(changes)  # alternating changes do not add up
            ]
        change, ratio = changes[0], np.median(ratios, axis=0)  # one ratio alone may be noise
        change = np.abs(change)
        # Changes far below the tolerance are noise: their ratio says nothing.
        return np.where(
            change < 0.02 * self.within, change, change * np.maximum(1.0, ratio / (1.0 - ratio))
        )

    def describe(self) -> str:
        """What still changes, for a message."""
        names = (
            "trapped mass",
            "work",
            "residual",
            "burned gas in the plenum",
            "mass in the plenum",
            "energy in the plenum",
            "stored mass",
            "flow of the other cylinders",
            "pressure along the ducts",
        )
        worst = self.left.max(axis=1)
        k = int(np.argmax(worst))
        return f"{names[k]} is still off by about {worst[k]:.2g}"


class _Plenum:
    """Watches the plenum's contents from cycle to cycle and moves them to where they are bound: the
    end of a geometric series, or the balance of what comes in with what is drawn."""

    def __init__(self, engine: EngineFile, run: Run, within: float):
        self.contents = run.blocks.volumes[0, list(run.network.volumes).index("plenum")]
        self.fixed = run.network.volumes["plenum"]["kind"] == RESERVOIR
        self.ambient, self.within = engine.intake.ambient, within
        self.outlet = engine.exhaust.outlet.pressure or engine.intake.ambient.pressure
        self.residual = 1.0 / (GAMMA * (engine.engine.compression_ratio - 1.0))
        self.changes: list[np.ndarray] = []
        self.shares: list[np.ndarray] = []
        self.jumps = 0
        self.off = np.zeros(2)  # relative distance of mass and energy from their balance
        # Of the balance's own answer to a move over the one the Newton step counts on (pulsation
        # through the throttle renews the plenum faster than the mean flow), and the last move.
        self.slope, self.moved = np.ones(2), None

    def watch(self, before, after, pressure: float):
        """Take note of a cycle and its mean plenum pressure (Pa)."""
        if self.fixed:
            return
        held = after["contents"]["plenum"]
        self.changes.append((held - before["contents"]["plenum"])[:2])
        self.shares.append(held[2:] / held[0])
        self.off = self._off_balance(before, after, pressure)

    def move(self, after) -> bool:
        """Move the contents, if it is clear where to."""
        if self.fixed or len(self.changes) < 3 or self.jumps == MOST_JUMPS:
            return False
        held = self.contents[:4]
        self._learn()
        jump = self._one_series(JUMP_FROM * after["trapped_mass"].sum())
        if jump is None and np.abs(self.off / self.slope).max() > self.within:
            jump = self.off / self.slope * held[:2]
        if jump is None and np.abs(self._last_shares() - self.shares[-1]).max() > self.within:
            jump = np.zeros(2)
        if jump is None:
            return False
        jump *= min(1.0, MOST_JUMP / max(np.max(np.abs(jump) / held[:2]), MOST_JUMP))
        self.moved = jump / held[:2], self.off
        held[:2] += jump
        held[2:] = held[0] * self._last_shares()
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
        change = (after["contents"]["plenum"] - before["contents"]["plenum"])[:2]
        came = -(after["contents"]["air"] - before["contents"]["air"])[:2]
        drawn = np.maximum(came - change, 1e-3 * self.contents[:2])
        s = self._throttle_exponent(p)
        full = (1.0 + self.residual) * p
        x = full / max(full - self.residual * self.outlet, 0.1 * p)
        e = change[1] / (drawn[1] * x - came[1] * s)
        return np.array([(change[0] + came[0] * s * e) / drawn[0] - (x - 1.0) * e, e])

    def _throttle_exponent(self, p) -> float:
        """d ln(flow) / d ln(p) of the throttle, p in the plenum."""
        p0, flux = self.ambient.pressure, mass_flux.py_func
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


def _march_cycle(run: Run, omega, courant, rpm) -> float:
    """March one cycle; returns the time-mean plenum pressure (Pa)."""
    run.engine.peak_pressure[:] = 0.0
    try:
        record = run.march(4.0 * pi / omega, omega=omega, courant=courant, probes={}, room=4000)
    except MarchError as error:
        raise ComputationError(f"at {rpm:g} rpm {error}") from None
    time, p = record["time"], record["plenum"]["p"]
    return float(np.sum(np.diff(time) * 0.5 * (p[1:] + p[:-1])) / (time[-1] - time[0]))


def _stored(before, after, field: str) -> float:
    """What ducts, plenum and cylinders gained over the cycle: kg ("mass") or J ("energy")."""
    q = {"mass": 0, "energy": 1}[field]
    ducts = after["held"][field] - before["held"][field]
    return ducts + sum(after["inside"][v][q] - before["inside"][v][q] for v in after["inside"])


def _snapshot(run: Run) -> dict:
    """Everything that is summed over time, and everything held, now."""
    e, blocks = run.engine, run.blocks
    ducts = [run.held(d) for d in run.network.ducts]
    held = {name: sum(d[name] for d in ducts) for name in ("mass", "energy")}
    names = list(run.network.volumes)
    contents = {name: blocks.volumes[0, b, :4].copy() for b, name in enumerate(names)}
    return {
        "held": held,
        "contents": contents,
        "inside": {
            v: c for v, c in contents.items() if run.network.volumes[v]["kind"] != RESERVOIR
        },
        "ends": blocks.tally_ends.copy(),
        "echo": blocks.tally_echo.copy(),
        "pressures": np.concatenate([run.nodes.p[d.nodes] for d in run.network.ducts.values()]),
        "vessel_heat": float(blocks.vessel_heat.sum()),
        "duct_heat": sum(
            float(blocks.duct_heat[d.inside].sum()) for d in run.network.ducts.values()
        ),
        "residual": e.trapped_burned / np.maximum(e.trapped_mass, 1e-300),
        **{name: getattr(e, name).copy() for name in _PER_CYLINDER},
    }


#: Of march.Engine, one value a cylinder.
_PER_CYLINDER = (
    "work", "pumping", "wall_heat", "burned_fuel", "injected", "injected_energy", "trapped_mass",
    "trapped_air", "ivc_t", "peak_pressure",
)  # fmt: skip


def _ledger(run: Run, before, after) -> Ledger:
    """Balance over the last cycle; inflow and sources positive, outflow and storage negative."""

    def gained(volume, q):
        return after["contents"][volume][q] - before["contents"][volume][q]

    def change(name):
        return float(np.sum(after[name] - before[name]))

    sources = [v for v in ("air", "plenum") if v not in after["inside"]]
    calm = [k for k, e in enumerate(run.network.ends.values()) if e["kind"] == CALM]

    def drawn(q):
        through = (after["ends"] - before["ends"])[calm, q].sum()  # only in what-if networks
        return -float(through) - sum(gained(v, q) for v in sources)

    mass = {
        "in from the air": drawn(0),
        "to the other cylinders": after["echo"][0] - before["echo"][0],
        "injected fuel": change("injected"),
        "out through the exhaust": -gained("outlet", 0),
        "stored in ducts, plenum and cylinders": -_stored(before, after, "mass"),
    }
    energy = {
        "in from the air": drawn(1),
        "heat released": change("burned_fuel") * float(run.engine.heat_release[0]),
        "to the other cylinders": after["echo"][1] - before["echo"][1],
        "injected fuel": change("injected_energy"),
        "work on the piston": -change("work"),
        "heat to cylinder walls": -change("wall_heat"),
        "heat from duct walls": change("duct_heat"),
        "heat to the plenum wall": -change("vessel_heat"),
        "out through the exhaust": -gained("outlet", 1),
        "stored in ducts, plenum and cylinders": -_stored(before, after, "energy"),
    }
    return Ledger(mass, energy)


def _account(engine, run, rpm, g, snapshots, cycles, plenum_pressure) -> OperatingPoint:
    """Figures from the snapshots around the last cycle, or the last two; means per cycle and
    cylinder computed."""
    before, after = snapshots[0], snapshots[-1]
    period = len(snapshots) - 1
    computed = len(run.network.cylinders)

    def per_cycle(name):
        return float(np.mean(after[name] - before[name])) / period

    def mean(name):
        return float(np.mean([s[name] for s in snapshots[1:]]))

    n = engine.engine.cylinders
    air = engine.intake.ambient
    per_second = rpm / 120.0  # cycles
    full = g.swept * air.pressure / (run.network.gas.Ra * air.temperature)  # kg at VE 1
    intake = _through(run, before, after, "intake", "right") / (period * computed)
    exhaust = _through(run, before, after, "exhaust", "left") / (period * computed)
    delivered = intake[0] - intake[2] - intake[3]
    escaped = max(-(exhaust[0] - exhaust[2] - exhaust[3]), 0.0)
    fuel = intake[2] + per_cycle("injected")
    trapped = mean("trapped_air")
    ve_cylinder = np.mean([s["trapped_air"] for s in snapshots[1:]], axis=0) / full

    work, peak_pressure = per_cycle("work"), mean("peak_pressure")
    imep = work / g.swept
    speed = 2.0 * engine.engine.stroke * rpm / 60.0
    f = engine.friction
    friction = fmep(f.constant, f.peak_pressure, f.speed, f.speed_squared, peak_pressure, speed)
    bmep = imep - friction
    torque = bmep * g.swept * n / (4.0 * pi)
    power = torque * rpm * pi / 30.0
    ledger = _ledger(run, before, after)
    plenum_gas, plenum_temperature, air_share = _volume_gas(run, "plenum")
    plenum_density = air_share * plenum_pressure / (plenum_gas * plenum_temperature)
    breathed = period * computed * delivered
    alternate = np.ptp([s["trapped_air"] for s in snapshots[1:]], axis=0)
    figures = {
        "ve": trapped / full,
        "ve_delivered": delivered / full,
        "ve_plenum": trapped / (g.swept * plenum_density),
        "ve_spread": float(np.ptp(ve_cylinder)) / (trapped / full),
        "torque": torque,
        "power": power,
        "bmep": bmep,
        "imep": imep,
        "pmep": -per_cycle("pumping") / g.swept,
        "fmep": friction,
        "residual": mean("residual"),
        "short_circuit": escaped / delivered,
        "peak_pressure": peak_pressure,
        "air_flow": delivered * per_second * n,
        "fuel_flow": fuel * per_second * n,
        "bsfc": fuel * per_second * n / power if power > 0.0 else float("nan"),
        "ca50": engine.combustion.ca50,
        "charge_temperature": mean("ivc_t"),
        "plenum_pressure": plenum_pressure,
        "wall_heat": per_cycle("wall_heat"),
        "cycles": float(cycles),
        "cylinders_computed": float(computed),
        "alternation": float(np.max(np.abs(alternate))) / trapped,
        "mass_error": abs(ledger.mass_gap) / breathed,
        "energy_error": abs(ledger.energy_gap)
        / (period * computed * fuel * engine.mixture.heating_value),
        "periodicity": abs(ledger.mass["stored in ducts, plenum and cylinders"])
        / (breathed * (1 + run.blocks.echo_phases.size)),
    }
    _check_balance(engine, rpm, figures)
    return OperatingPoint(rpm, figures, ledger, ve_cylinder)


def _check_balance(engine, rpm, figures):
    """Raise ComputationError for figures that cannot be shown."""
    lost = [k for k, v in figures.items() if k != "bsfc" and not np.isfinite(v)]
    if lost:
        raise ComputationError(f"at {rpm:g} rpm these are not finite: {', '.join(lost)}")
    if figures["ve"] <= 0.0:
        raise ComputationError(f"at {rpm:g} rpm the cylinder traps no fresh air")
    most = LEDGER_GAP[engine.numerics.method]
    for side in ("mass", "energy"):
        gap = figures[f"{side}_error"]
        if gap > most:
            raise ComputationError(
                f"at {rpm:g} rpm the {side} ledger does not close: {gap:.2g} of what passes is"
                f" missing, more than {most:g}"
            )


def _through(run: Run, before, after, duct: str, side: str):
    """Mass, energy, fuel and burned gas that left all ducts named ``duct`` at ``side``."""
    ends = [k for k, (d, s) in enumerate(run.network.ends)
            if d.startswith(f"{duct} ") and s == side]  # fmt: skip
    return (after["ends"] - before["ends"])[ends].sum(axis=0)


def _volume_gas(run: Run, name: str) -> tuple[float, float, float]:
    """Gas constant (J/(kg K)), temperature (K) and fresh-air share in a volume, now."""
    b = list(run.network.volumes).index(name)
    yf, yb = float(run.box.yf[b]), float(run.box.yb[b])
    r = float(gas_constant(run.network.gas, yf, yb))
    return r, float(run.box.temperature[b]), 1.0 - yf - yb
