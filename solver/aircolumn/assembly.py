"""The engine as a network: air - throttle - plenum - runner and port - cylinder - port and
primary - outlet, for one cylinder whose flow the others repeat, or for the whole manifold.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from aircolumn.cylinder.burn import wiebe_share, wiebe_timing
from aircolumn.cylinder.crank import swept_volume
from aircolumn.cylinder.filling import DIRECT, PORT, PREMIXED
from aircolumn.cylinder.flow_bench import discharge_coefficients
from aircolumn.cylinder.heat import LAWS
from aircolumn.cylinder.valve_area import effective_area, reference_area
from aircolumn.cylinder.valve_lift import card_lift, table_lift
from aircolumn.description.models import EngineFile
from aircolumn.duct.division import STEEPEST
from aircolumn.ends.nozzle import mass_flux
from aircolumn.ends.openings import end_correction, entry_loss
from aircolumn.ends.solve import TABLE_STEPS
from aircolumn.ends.throttle import butterfly_area
from aircolumn.gas.humid_air import vapour_mole_fraction
from aircolumn.gas.mixture import WorkingGas, moist_air, stoichiometric_ratio, working_gas
from aircolumn.network import Network
from aircolumn.piping import PipeRun, pipe_sections

TABLE_ANGLES = np.linspace(0.0, 720.0, TABLE_STEPS + 1)
TABLE_LEAD = 90.0  # degrees by which valve tables begin before the stated opening
# First guesses of the march, forgotten within a few cycles.
START_EXHAUST_TEMPERATURE = 900.0  # K
START_CHARGE_TEMPERATURE = 350.0  # K
START_BURNED_SHARE = 0.05
START_FILLING = 0.9
DELIVERIES = {"premixed": PREMIXED, "direct": DIRECT, "port": PORT}


@dataclass(frozen=True)
class Geometry:
    """Derived figures of one cylinder, SI.

    Valve events in degrees, 0 = firing top dead centre: *_opens and *_closes as the file states
    them (at lift.events_at), intake_shuts and exhaust_lifts where the lift really begins and ends.
    """

    swept: float
    clearance: float
    intake_opens: float
    intake_closes: float
    exhaust_opens: float
    exhaust_closes: float
    intake_shuts: float
    exhaust_lifts: float


def geometry(engine: EngineFile) -> Geometry:
    """Swept and clearance volume and valve events."""
    e = engine.engine
    swept = swept_volume(e.bore, e.stroke, e.rod, e.pin_offset)
    iv, ev = engine.intake.valve, engine.exhaust.valve
    intake, exhaust = engine.intake_events(), engine.exhaust_events()
    return Geometry(
        swept,
        swept / (e.compression_ratio - 1.0),
        *intake,
        *exhaust,
        intake_shuts=open_window(iv, *intake)[1],
        exhaust_lifts=open_window(ev, *exhaust)[0],
    )


def open_window(valve, opens: float, closes: float) -> tuple[float, float]:
    """First and last table angle, degrees, between which the valve is off its seat."""
    lifted = np.flatnonzero(lift_curve(valve, opens, closes) > 0.0)
    start = opens - TABLE_LEAD
    return start + TABLE_ANGLES[lifted[0] - 1], start + TABLE_ANGLES[lifted[-1] + 1]


def ambient_gas(engine: EngineFile) -> WorkingGas:
    """The three gases for this engine's air and mixture."""
    a, m = engine.intake.ambient, engine.mixture
    vapour = vapour_mole_fraction(a.pressure, a.temperature, a.humidity)
    ratio = m.relative_air_fuel_ratio
    if ratio is None:
        ratio = m.air_fuel_ratio / stoichiometric_ratio(moist_air(vapour))
    return working_gas(ratio, m.heating_value, vapour)


def intake_run(engine: EngineFile, cylinder: int = 1) -> PipeRun:
    """Runner (with its mouth's end correction) and port of a cylinder."""
    run = PipeRun()
    run.add(engine.intake.runner.of_cylinder(cylinder))
    run.add(engine.intake.port)
    entry = engine.intake.runner.entry
    if entry.end_correction:
        run.add_open_air(end_correction(entry.shape, run.pieces[0].start), at_start=True)
    return run


def exhaust_run(engine: EngineFile) -> PipeRun:
    """Port and primary pipe, with the end correction of a plain mouth if it has one."""
    run = PipeRun()
    run.add(engine.exhaust.port)
    run.add(engine.exhaust.primary)
    if not engine.whole or engine.exhaust.collector is None:
        run.add_open_air(end_correction("plain", run.pieces[-1].end), at_start=False)
    return run


def lift_curve(valve, opens: float, closes: float):
    """Valve lift, m, over TABLE_ANGLES counted from ``opens`` - TABLE_LEAD degrees."""
    lift = valve.lift
    angle = TABLE_ANGLES - TABLE_LEAD
    if lift.highest is None:
        return table_lift(angle, 0.0, lift.angle, lift.lift, lift.lash)
    return card_lift(angle, 0.0, closes - opens, lift.highest, lift.events_lift, lift.lash)


def discharge_tables(valve) -> tuple:
    """Lift over diameter, and Cd forward and reverse on valve.discharge.reference (arrays)."""
    ratio, forward, reverse = _discharge_as_given(valve)
    return ratio, valve.discharge.factor * forward, valve.discharge.factor * reverse


def _discharge_as_given(valve) -> tuple:
    d = valve.discharge
    if d.bench is None:
        return tuple(np.array(t) for t in (d.lift_ratio, d.forward, d.reverse or d.forward))
    b = d.bench
    area = bench_area(valve)
    forward, reverse = (
        discharge_coefficients(flow, area, b.depression, b.pressure, b.temperature)
        for flow in (b.flow, b.reverse_flow or b.flow)
    )
    return np.array(b.lift) / valve.diameter, forward, reverse


def bench_area(valve) -> np.ndarray:
    """Reference area, m2, of all valves of the port together at the lifts of the bench."""
    d, lift = valve.discharge, np.array(valve.discharge.bench.lift)
    geometry = (valve.diameter, valve.seat_width, valve.seat_angle, valve.stem)
    return valve.count * reference_area(d.reference, lift, *geometry)


def valve_tables(valve, opens: float, closes: float):
    """Effective areas forward and reverse, m2, of all valves together, and the table's offset."""
    lift = lift_curve(valve, opens, closes)
    ratio, *coefficients = discharge_tables(valve)
    tables = [
        valve.count
        * effective_area(
            lift, ratio, cd, valve.discharge.reference,
            valve.diameter, valve.seat_width, valve.seat_angle, valve.stem,
        )
        for cd in coefficients
    ]  # fmt: skip
    return tables[0], tables[1], opens - TABLE_LEAD


def cells_for(length: float, target: float) -> int:
    """Number of cells of about ``target`` metres in ``length`` (at least 4)."""
    return max(4, round(length / target))


def firing_phases(engine: EngineFile) -> list[float]:
    """Firing top dead centre of each cylinder in degrees after that of cylinder 1, in order of
    cylinder number."""
    e = engine.engine
    order = e.firing_order or list(range(1, e.cylinders + 1))
    angles = e.firing_angles or [720.0 * k / e.cylinders for k in range(e.cylinders)]
    at = dict(zip(order, angles, strict=True))
    return [(at[k] - at[1]) % 720.0 for k in range(1, e.cylinders + 1)]


def build(engine: EngineFile, refinement: float = 1.0, rpm: float | None = None) -> Network:
    """The engine's network; ``refinement`` 2 halves every cell; at ``rpm`` (rev/min) the march is
    to start from a likely plenum pressure.

    Volumes: air, plenum, outlet and "cylinder k"; ducts "intake k" and "exhaust k" (left to right
    in the direction of normal flow) and "collector g". Where the engine is not computed
    whole, it is cylinder 1, and the others do the same to the plenum in their turn.
    """
    gas = ambient_gas(engine)
    g = geometry(engine)
    many = engine.whole
    firing = firing_phases(engine)
    phases = firing if many else [0.0]
    net = Network(gas.gas, conservative=engine.numerics.method == "conservative")
    suction = engine.intake.ambient.pressure if rpm is None else _suction(engine, gas, g, rpm)
    _add_volumes(net, engine, gas, suction)
    for k, phase in enumerate(phases, 1):
        _add_cylinder(net, engine, gas, g, k, phase, suction, refinement)
    if not many and engine.intake.plenum is not None:
        net.echo("intake 1", "left", firing[1:])
    collector = engine.exhaust.collector if many else None
    if collector is None:
        for k in range(1, len(phases) + 1):
            _open_to_outlet(net, f"exhaust {k}")
    else:
        _add_collectors(net, engine, collector, refinement)
    return net


def _premixed_fuel(engine, gas) -> float:
    """Fuel-vapour share of what comes in through the throttle."""
    premixed = engine.mixture.delivery == "premixed"
    return 1.0 / (1.0 + gas.air_fuel_ratio) if premixed else 0.0


def drawn_gas_constant(engine) -> float:
    """Gas constant of what comes in through the throttle, J/(kg K)."""
    gas = ambient_gas(engine)
    fuel = _premixed_fuel(engine, gas)
    return gas.gas.Ra + fuel * (gas.gas.Rf - gas.gas.Ra)


def _back_pressure(engine) -> float:
    return engine.exhaust.outlet.pressure or engine.intake.ambient.pressure


def _throttle_area(throttle) -> float:
    """Effective area, m2."""
    area = butterfly_area(throttle.bore, throttle.shaft, throttle.angle, throttle.closed_angle)
    return throttle.discharge_coefficient * area


def _suction(engine, gas, g, rpm) -> float:
    """A plenum pressure to start from, Pa: what comes in through the throttle is what an engine
    draws that fills to START_FILLING of an ideal one, whose residual gas expands to the plenum's
    pressure: VE = 1 - (pe/p - 1) / (gamma (r - 1)) (Heywood 1988, section 5.6)."""
    air = engine.intake.ambient
    if engine.intake.throttle is None:
        return air.pressure
    area, flux = _throttle_area(engine.intake.throttle), mass_flux.py_func
    rho, behind = air.pressure / (gas.gas.Ra * air.temperature), _back_pressure(engine)
    most = START_FILLING * g.swept * engine.engine.cylinders * rpm / 120.0 * rho / air.pressure
    residual = 1.0 / (1.35 * (engine.engine.compression_ratio - 1.0))
    low, high = 0.0, air.pressure
    for _ in range(20):  # the difference falls with p: halving cannot miss
        p = 0.5 * (low + high)
        draws = most * (p - residual * (behind - p))
        low, high = (p, high) if area * flux(air.pressure, rho, 1.4, p) > draws else (low, p)
    return high


def _add_volumes(net, engine, gas, suction):
    air, t = engine.intake.ambient, engine.intake.throttle
    fuel = _premixed_fuel(engine, gas)
    outlet = engine.exhaust.outlet.temperature
    net.reservoir("air", air.pressure, air.temperature, fuel=fuel)
    net.reservoir("outlet", _back_pressure(engine), outlet, burned=1.0)
    if t is None:  # open air in the plenum's place
        net.reservoir("plenum", air.pressure, air.temperature, fuel=fuel)
        return
    volume = engine.intake.plenum.volume
    net.vessel("plenum", volume, suction, air.temperature, fuel=fuel)
    net.orifice("air", "plenum", _throttle_area(t))


def _add_cylinder(net, engine, gas, g, k, phase, suction, refinement):
    """Cylinder ``k``, its intake from the plenum and its exhaust, with the valves between."""
    air = engine.intake.ambient
    fuel = _premixed_fuel(engine, gas)
    net.cylinder(
        f"cylinder {k}",
        _cylinder_values(engine, gas, g, phase),
        suction,
        START_CHARGE_TEMPERATURE,
        fuel=fuel * (1.0 - START_BURNED_SHARE),
        burned=START_BURNED_SHARE,
    )
    intake, exhaust = f"intake {k}", f"exhaust {k}"
    _add_duct(net, intake, intake_run(engine, k), engine.cells[0], refinement,
              suction, air.temperature, {"fuel": fuel})  # fmt: skip
    _add_duct(net, exhaust, exhaust_run(engine), engine.cells[1], refinement,
              _back_pressure(engine), START_EXHAUST_TEMPERATURE, {"burned": 1.0})  # fmt: skip
    net.opening(intake, "left", "plenum", loss=_mouth_loss(engine.intake.runner))
    iv, ev = engine.intake.valve, engine.exhaust.valve
    into, back_out, offset = valve_tables(iv, g.intake_opens, g.intake_closes)
    net.valve(intake, "right", f"cylinder {k}", into, back_out, offset + phase, injector=True)
    out, back_in, offset = valve_tables(ev, g.exhaust_opens, g.exhaust_closes)
    net.valve(exhaust, "left", f"cylinder {k}", back_in, out, offset + phase)


def _open_to_outlet(net, duct):
    net.opening(duct, "right", "outlet", loss=entry_loss("plain", 0.0, 1.0))


def _add_collectors(net, engine, collector, refinement):
    """The primaries of each group meet in a junction and go on as one pipe."""
    groups = collector.groups or [list(range(1, engine.engine.cylinders + 1))]
    for g, group in enumerate(groups, 1):
        run = PipeRun()
        run.add(collector)
        run.add_open_air(end_correction("plain", run.pieces[-1].end), at_start=False)
        name = f"collector {g}"
        _add_duct(net, name, run, engine.cells[1], refinement,
                  _back_pressure(engine), START_EXHAUST_TEMPERATURE, {"burned": 1.0})  # fmt: skip
        net.junction(*((f"exhaust {k}", "right") for k in group), (name, "left"))
        _open_to_outlet(net, name)


def _mouth_loss(runner) -> float:
    entry = runner.entry
    if entry.loss is not None:
        return entry.loss
    return entry_loss(entry.shape, entry.radius or 0.0, pipe_sections(runner, None)[0][1])


_ALONG = ("wall", "roughness", "friction", "heat", "bend", "outside", "coefficient")


def _add_duct(net, name, run: PipeRun, cell, refinement, pressure, temperature, composition):
    shape = run.shape
    net.duct(
        name,
        shape,
        cells_for(shape.length, cell / refinement),
        steepest=STEEPEST / min(refinement, 1.0),  # a coarse start need not resolve steep cones
        pressure=pressure,
        temperature=temperature,
        **{field: run.along(field) for field in _ALONG},
        **composition,
    )


def _cylinder_values(engine: EngineFile, gas: WorkingGas, g: Geometry, phase: float) -> dict:
    """Fields of Cranks and march.Engine; ``phase``: firing top dead centre, degrees.

    The march starts where the intake valve of cylinder 1 shuts.
    """
    e, c, walls = engine.engine, engine.combustion, engine.cylinder_walls
    throw = 0.5 * e.stroke
    start, total = wiebe_timing(c.ca50, c.duration_10_90, c.form)
    piston_area = 0.25 * pi * e.bore**2
    top = sqrt((e.rod + throw) ** 2 - e.pin_offset**2)
    angle = np.radians(g.intake_shuts - phase)
    side = throw * np.sin(angle) - e.pin_offset
    height = throw * np.cos(angle) + np.sqrt(e.rod**2 - side**2)
    return {
        "throw": throw,
        "rod": e.rod,
        "pin_offset": e.pin_offset,
        "area": piston_area,
        "clearance": g.clearance,
        "top": top,
        "phase": phase,
        "ivc": g.intake_shuts,
        "stroke": e.stroke,
        "swept": g.swept,
        "burn_start": start,
        "evo": g.exhaust_lifts,
        "start_volume": g.clearance + piston_area * (top - height),
        "heat_model": LAWS[walls.model],
        "ca50": c.ca50,
        "residual_factor": c.residual_factor,
        "exchange_heat": walls.exchange_factor,
        "heat_factor": walls.factor,
        "head_wall": walls.head,
        "piston_wall": walls.piston,
        "liner_wall": walls.liner,
        "air_fuel_ratio": gas.air_fuel_ratio,
        "heat_release": gas.heat_release - (1.0 - c.efficiency) * gas.lower_heating_value,
        "delivery": DELIVERIES[engine.mixture.delivery],
        "latent_heat": engine.mixture.charge_cooling * engine.mixture.latent_heat,
        "burn_table": wiebe_share(TABLE_ANGLES, 0.0, total, c.form),
    }
