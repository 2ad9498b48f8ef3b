"""The single-cylinder engine as a network: air - throttle - plenum - runner and port - cylinder -
port and primary - outlet.

The cylinder has its share (one over the number of cylinders) of plenum volume and throttle area.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from aircolumn.cylinder.burn import wiebe_share, wiebe_timing
from aircolumn.cylinder.crank import swept_volume
from aircolumn.cylinder.heat import NONE, WOSCHNI
from aircolumn.cylinder.valve_area import effective_area
from aircolumn.cylinder.valve_lift import card_lift, table_lift
from aircolumn.description.models import EngineFile
from aircolumn.duct.geometry import Shape, straight
from aircolumn.ends.openings import end_correction, entry_loss
from aircolumn.ends.solve import TABLE_STEPS
from aircolumn.ends.throttle import butterfly_area
from aircolumn.gas.humid_air import vapour_mole_fraction
from aircolumn.gas.mixture import WorkingGas, moist_air, stoichiometric_ratio, working_gas
from aircolumn.network import Network

TABLE_ANGLES = np.linspace(0.0, 720.0, TABLE_STEPS + 1)
TABLE_LEAD = 90.0  # degrees by which valve tables begin before the stated opening
# First guesses of the march, forgotten within a few cycles.
START_EXHAUST_TEMPERATURE = 900.0  # K
START_CHARGE_TEMPERATURE = 350.0  # K
START_BURNED_SHARE = 0.05


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
    intake = 360.0 - iv.opens_btdc, 540.0 + iv.closes_abdc
    exhaust = 180.0 - ev.opens_bbdc, 360.0 + ev.closes_atdc
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


def bend_loss(angle: float, radius: float, bore: float) -> float:
    """Loss coefficient of a smooth bend, K = (0.131 + 1.847 (D / 2R)^3.5) angle / 90.

    Weisbach's formula as given in hydraulics handbooks, from memory; angle in degrees, centre-line
    radius and bore in m.
    """
    return (0.131 + 1.847 * (0.5 * bore / radius) ** 3.5) * angle / 90.0


@dataclass(frozen=True)
class Piece:
    """A straight or conical piece of a pipe run and its wall (SI; bend: loss per metre)."""

    length: float
    start: float
    end: float
    wall: float
    roughness: float
    friction: float
    heat: float
    bend: float


class PipeRun:
    """Pipes one behind the other as one duct: its shape, and its wall data by distance."""

    def __init__(self):
        self.pieces: list[Piece] = []

    def add(self, pipe):
        """Append a pipe of the engine file; an open first bore continues the bore before it."""
        before = self.pieces[-1].end if self.pieces else None
        wall = 300.0 if pipe.wall_temperature is None else pipe.wall_temperature
        for length, start, end, bend in pipe_sections(pipe, before):
            self.pieces.append(
                Piece(length, start, end, wall, pipe.roughness, pipe.friction_factor,
                      pipe.heat_factor, bend / length)
            )  # fmt: skip

    def add_open_air(self, length: float, at_start: bool):
        """Lengthen one end by the air that moves with the column (no wall there)."""
        if length > 0.0:
            bore = self.pieces[0].start if at_start else self.pieces[-1].end
            piece = Piece(length, bore, bore, 300.0, 0.0, 0.0, 0.0, 0.0)
            self.pieces.insert(0 if at_start else len(self.pieces), piece)

    @property
    def shape(self) -> Shape:
        """Bore against distance."""
        shape = None
        for p in self.pieces:
            piece = straight(p.length, p.start, p.end)
            shape = piece if shape is None else shape.then(piece)
        return shape

    def along(self, name: str):
        """Function of distance (m, array) giving the field ``name`` of the piece there."""
        edges = np.cumsum([p.length for p in self.pieces])
        values = np.array([getattr(p, name) for p in self.pieces])

        def at(x):
            return values[np.minimum(np.searchsorted(edges, x), len(edges) - 1)]

        return at


def pipe_sections(pipe, bore_before: float | None):
    """(length, first bore, last bore, bend loss) of each section; an open first bore takes
    ``bore_before``."""
    if pipe.sections is None:
        start = bore_before if pipe.bore.start is None else pipe.bore.start
        return [(pipe.length, start, pipe.bore.end, 0.0)]
    rows, before = [], bore_before
    for s in pipe.sections:
        start = before if s.bore.start is None else s.bore.start
        loss = bend_loss(s.bend_angle, s.bend_radius, start) if s.bend_angle else 0.0
        rows.append((s.length, start, s.bore.end, loss))
        before = s.bore.end
    return rows


def pipe_shape(pipe) -> Shape:
    """Shape of one pipe of the engine file, without what stands before and behind it."""
    run = PipeRun()
    run.add(pipe)
    return run.shape


def intake_run(engine: EngineFile) -> PipeRun:
    """Runner (with its mouth's end correction) and port."""
    run = PipeRun()
    run.add(engine.intake.runner)
    run.add(engine.intake.port)
    entry = engine.intake.runner.entry
    if entry.end_correction:
        run.add_open_air(end_correction(entry.shape, run.pieces[0].start), at_start=True)
    return run


def exhaust_run(engine: EngineFile) -> PipeRun:
    """Port and primary pipe (with the end correction of a plain mouth)."""
    run = PipeRun()
    run.add(engine.exhaust.port)
    run.add(engine.exhaust.primary)
    run.add_open_air(end_correction("plain", run.pieces[-1].end), at_start=False)
    return run


def lift_curve(valve, opens: float, closes: float):
    """Valve lift, m, over TABLE_ANGLES counted from ``opens`` - TABLE_LEAD degrees."""
    lift = valve.lift
    angle = TABLE_ANGLES - TABLE_LEAD
    if lift.maximum is None:
        return table_lift(angle, 0.0, lift.angle, lift.lift, lift.lash)
    return card_lift(angle, 0.0, closes - opens, lift.maximum, lift.events_at, lift.lash)


def valve_tables(valve, opens: float, closes: float):
    """Effective areas forward and reverse, m2, of all valves together, and the table's offset."""
    lift = lift_curve(valve, opens, closes)
    d = valve.discharge
    reverse = d.forward if d.reverse is None else d.reverse
    tables = [
        valve.count
        * effective_area(
            lift, d.lift_ratio, cd, d.reference,
            valve.diameter, valve.seat_width, valve.seat_angle, valve.stem,
        )
        for cd in (d.forward, reverse)
    ]  # fmt: skip
    return tables[0], tables[1], opens - TABLE_LEAD


def cells_for(length: float, target: float) -> int:
    """Number of cells of about ``target`` metres in ``length`` (at least 4)."""
    return max(4, round(length / target))


def build(engine: EngineFile, refinement: float = 1.0) -> Network:
    """The engine's network; ``refinement`` 2 halves every cell. Volumes: air, plenum, cylinder,
    outlet; ducts: intake, exhaust."""
    gas = ambient_gas(engine)
    air = engine.intake.ambient
    fuel = 0.0
    if engine.mixture.delivery == "premixed":
        fuel = 1.0 / (1.0 + gas.air_fuel_ratio)
    g = geometry(engine)
    n = engine.engine.cylinders
    net = Network(gas.gas, conservative=engine.numerics.method == "conservative")
    back = engine.exhaust.outlet.pressure or air.pressure
    net.reservoir("air", air.pressure, air.temperature, fuel=fuel)
    net.reservoir("outlet", back, engine.exhaust.outlet.temperature, burned=1.0)
    net.vessel("plenum", engine.intake.plenum.volume / n, air.pressure, air.temperature, fuel=fuel)
    net.cylinder(
        "cylinder",
        _cylinder_values(engine, gas, g),
        air.pressure,
        START_CHARGE_TEMPERATURE,
        fuel=fuel * (1.0 - START_BURNED_SHARE),
        burned=START_BURNED_SHARE,
    )
    t = engine.intake.throttle
    area = butterfly_area(t.bore, t.shaft, t.angle, t.closed_angle)
    net.orifice("air", "plenum", t.discharge_coefficient * area / n)

    numerics = engine.numerics
    run = intake_run(engine)
    _add_duct(net, "intake", run, numerics.intake_cell / refinement, air.pressure,
              air.temperature, {"fuel": fuel})  # fmt: skip
    run = exhaust_run(engine)
    _add_duct(net, "exhaust", run, numerics.exhaust_cell / refinement, back,
              START_EXHAUST_TEMPERATURE, {"burned": 1.0})  # fmt: skip

    net.opening("intake", "left", "plenum", loss=_mouth_loss(engine.intake.runner))
    iv, ev = engine.intake.valve, engine.exhaust.valve
    into, back_out, offset = valve_tables(iv, g.intake_opens, g.intake_closes)
    net.valve("intake", "right", "cylinder", into, back_out, offset)
    out, back_in, offset = valve_tables(ev, g.exhaust_opens, g.exhaust_closes)
    net.valve("exhaust", "left", "cylinder", back_in, out, offset)
    net.opening("exhaust", "right", "outlet", loss=entry_loss("plain", 0.0, 1.0))
    return net


def _mouth_loss(runner) -> float:
    entry = runner.entry
    if entry.loss is not None:
        return entry.loss
    return entry_loss(entry.shape, entry.radius or 0.0, pipe_sections(runner, None)[0][1])


def _add_duct(net, name, run: PipeRun, cell, pressure, temperature, composition):
    shape = run.shape
    net.duct(
        name,
        shape,
        cells_for(shape.length, cell),
        pressure=pressure,
        temperature=temperature,
        **{field: run.along(field) for field in ("wall", "roughness", "friction", "heat", "bend")},
        **composition,
    )


def _cylinder_values(engine: EngineFile, gas: WorkingGas, g: Geometry) -> dict:
    """Fields of Cranks and march.Engine for the one cylinder."""
    e, c, walls = engine.engine, engine.combustion, engine.cylinder_walls
    throw = 0.5 * e.stroke
    start, total = wiebe_timing(c.ca50, c.duration_10_90, c.form)
    piston_area = 0.25 * pi * e.bore**2
    top = sqrt((e.rod + throw) ** 2 - e.pin_offset**2)
    angle = np.radians(g.intake_shuts)
    side = throw * np.sin(angle) - e.pin_offset
    height = throw * np.cos(angle) + np.sqrt(e.rod**2 - side**2)
    return {
        "throw": throw,
        "rod": e.rod,
        "pin_offset": e.pin_offset,
        "area": piston_area,
        "clearance": g.clearance,
        "top": top,
        "phase": 0.0,
        "ivc": g.intake_shuts,
        "stroke": e.stroke,
        "swept": g.swept,
        "burn_start": start,
        "evo": g.exhaust_lifts,
        "start_volume": g.clearance + piston_area * (top - height),
        "heat_model": WOSCHNI if walls.model == "woschni" else NONE,
        "heat_factor": walls.factor,
        "head_wall": walls.head,
        "piston_wall": walls.piston,
        "liner_wall": walls.liner,
        "air_fuel_ratio": gas.air_fuel_ratio,
        "heat_release": gas.heat_release - (1.0 - c.efficiency) * gas.lower_heating_value,
        "direct": float(engine.mixture.delivery == "direct"),
        "latent_heat": engine.mixture.latent_heat,
        "burn_table": wiebe_share(TABLE_ANGLES, 0.0, total, c.form),
    }
