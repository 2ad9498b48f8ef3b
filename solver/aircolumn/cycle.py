"""One operating point: march cycles until they repeat, then account for the last one.

A cycle runs from one intake-valve closing to the next. When it counts as repeating says
repetition.py. A point that does not converge, or whose ledger is open by more than LEDGER_GAP, is
an error, never a result.

Most of the way is marched on a coarse mesh (nested iteration: Hackbusch, Multi-Grid Methods and
Applications, ch. 5): a quarter of the cells takes a tenth of the work a cycle, its cycle differs
from the fine one by less than a per cent, and the fine mesh, started from it, needs three or four
cycles where it would need ten from rest. A point depends on nothing but its engine and speed.

The slowest modes are the plenum's: plenum_balance.py moves its contents to where they are bound;
the cycles after it are marched and judged like any other.

The echoes of a lone cylinder (ends/echo.py) are remembered anew every cycle. Where that does not
settle, as with a plenum that little holds, they keep a share of the cycle before
(under-relaxation), which changes the way to the periodic cycle and not the cycle. Where that does
not help either, all cylinders are computed.
"""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from aircolumn import assembly, march
from aircolumn.cylinder.friction import fmep
from aircolumn.description.models import EngineFile
from aircolumn.ends.arrays import CALM, RESERVOIR
from aircolumn.errors import ComputationError
from aircolumn.network import MarchError, Run, gas_constant
from aircolumn.plenum_balance import Plenum
from aircolumn.repetition import Judge, stored
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

# The way to the periodic cycle is marched on a mesh this much coarser, to a tolerance this much
# wider, for at most so many cycles; the fine mesh starts from there.
COARSE, COARSE_REPEAT, COARSE_CYCLES = 0.28, 2.0, 24
PHASING = (-5.0, 35.0)  # deg, where the best burn phasing is searched for
# Largest error of the mass and energy ledgers a point may have; the mesh method does not conserve.
LEDGER_GAP = {"conservative": 1e-6, "mesh": 0.05}
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
    judge = Judge(within, run)
    plenum = Plenum(engine, run, within)
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


def _march_cycle(run: Run, omega, courant, rpm) -> float:
    """March one cycle; returns the time-mean plenum pressure (Pa)."""
    run.engine.peak_pressure[:] = 0.0
    try:
        record = run.march(4.0 * pi / omega, omega=omega, courant=courant, probes={}, room=4000)
    except MarchError as error:
        raise ComputationError(f"at {rpm:g} rpm {error}") from None
    time, p = record["time"], record["plenum"]["p"]
    return float(np.sum(np.diff(time) * 0.5 * (p[1:] + p[:-1])) / (time[-1] - time[0]))


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
        "stored in ducts, plenum and cylinders": -stored(before, after, "mass"),
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
        "stored in ducts, plenum and cylinders": -stored(before, after, "energy"),
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
