"""The engine file's keys, their kinds and their limits. Values are SI once checked.

Angles stay in degrees and speeds in rev/min, as the trade writes them.
"""

from itertools import pairwise
from math import pi
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.description.measured import Measured
from aircolumn.description.parts import Part, plain_number, whole_number
from aircolumn.description.units import quantity

Length = quantity("length", above="0 mm", at_most="5 m")
Bore = quantity("length", above="0 mm", at_most="500 mm")
Small = quantity("length", at_least="0 mm", at_most="50 mm")
Volume = quantity("volume", above="0 cc", at_most="1000 L")
Pressure = quantity("pressure", above="10 kPa", at_most="500 kPa")
GasTemperature = quantity("temperature", at_least="-60 degC", at_most="1200 degC")
WallTemperature = quantity("temperature", at_least="-60 degC", at_most="1200 degC")
Speed = quantity("speed of rotation", at_least="100 rpm", at_most="30000 rpm")
Degrees = quantity("angle", at_least="-360 deg", at_most="360 deg")
CrankAngle = quantity("angle", at_least="0 deg", at_most="720 deg")
Flow = quantity("volume flow", above="0 L/s", at_most="2000 L/s")
Share = quantity("share", at_least="0 %", at_most="100 %")


class Cylinders(Part):
    """The bottom end."""

    cylinders: whole_number(1, 16)
    bore: Bore
    stroke: Bore
    rod: Length
    pin_offset: quantity("length", at_least="-20 mm", at_most="20 mm") = 0.0
    compression_ratio: plain_number(3.0, 25.0)
    firing_order: list[int] | None = None
    firing_angles: list[CrankAngle] | None = None

    @model_validator(mode="after")
    def _geometry(self):
        if self.rod <= 0.5 * self.stroke + abs(self.pin_offset):
            raise ValueError(
                f"rod {1e3 * self.rod:g} mm is too short for stroke {1e3 * self.stroke:g} mm:"
                " it must be longer than half the stroke plus the pin offset"
            )
        order = self.firing_order
        if order is not None and sorted(order) != list(range(1, self.cylinders + 1)):
            raise ValueError(
                f"firing_order {order} must name each of the {self.cylinders} cylinders once"
            )
        if self.firing_angles is not None:
            self._check_angles()
        return self

    def _check_angles(self):
        a = self.firing_angles
        rising = all(y > x for x, y in pairwise(a))
        if len(a) != self.cylinders or a[0] != 0.0 or not rising or a[-1] >= 720.0:
            raise ValueError(
                "firing_angles must list the firing top dead centres in firing order: one for each"
                " cylinder, from 0 deg, rising, below 720 deg (left out, they are evenly spaced)"
            )


class Ambient(Part):
    """Air outside."""

    pressure: quantity("pressure", at_least="50 kPa", at_most="120 kPa") = 101325.0
    temperature: quantity("temperature", at_least="-50 degC", at_most="60 degC") = 298.15
    humidity: Share = 0.0


class Taper(Part):
    """A bore that changes from one end to the other, in flow order for the intake."""

    start: Bore | None = Field(default=None, alias="from")
    end: Bore = Field(alias="to")


def _taper(value):
    """``bore: 42 mm`` means a straight bore."""
    if isinstance(value, dict):
        return value
    return {"from": value, "to": value}


TaperedBore = Annotated[Taper, BeforeValidator(_taper)]


class Section(Part):
    """One piece of a duct."""

    length: Length
    bore: TaperedBore
    bend_angle: quantity("angle", at_least="0 deg", at_most="360 deg") = 0.0
    bend_radius: Length | None = None

    @model_validator(mode="after")
    def _bend(self):
        if (self.bend_angle > 0.0) != (self.bend_radius is not None):
            raise ValueError("a bend needs both bend_angle and bend_radius (of the centre line)")
        return self


class Entry(Part):
    """The mouth a runner begins with."""

    shape: Literal["plain", "flanged", "bellmouth"] = "flanged"
    radius: Small | None = None
    loss: plain_number(0.0, 5.0) | None = None
    end_correction: bool = True

    @model_validator(mode="after")
    def _radius(self):
        if (self.shape == "bellmouth") != (self.radius is not None):
            raise ValueError("radius belongs to shape: bellmouth, and a bellmouth needs it")
        return self


class Surroundings(Part):
    """What cools (or warms) a pipe from outside; the coefficient is on the pipe's inner area."""

    temperature: quantity("temperature", at_least="-60 degC", at_most="800 degC")
    coefficient: quantity("heat-transfer coefficient", above="0 W/m2/K", at_most="20000 W/m2/K")


class Pipe(Part):
    """A runner, port or exhaust pipe: length and bore, or a list of sections (which the reader
    makes of an area_schedule too)."""

    length: Length | None = None
    bore: TaperedBore | None = None
    sections: Annotated[list[Section], Field(min_length=1)] | None = None
    roughness: quantity("length", at_least="0 mm", at_most="2 mm") = 2e-5
    wall_temperature: WallTemperature | None = None
    surroundings: Surroundings | None = None
    friction_factor: plain_number(0.0, 10.0) = 1.0
    heat_factor: plain_number(0.0, 10.0) = 1.0

    @model_validator(mode="after")
    def _one_way(self):
        if self.wall_temperature is not None and self.surroundings is not None:
            raise ValueError("give either wall_temperature or surroundings, not both")
        simple = self.length is not None and self.bore is not None
        partly = self.length is not None or self.bore is not None
        if self.sections is not None and partly:
            raise ValueError("give either sections, or length and bore, not both")
        if self.sections is None and not simple:
            missing = "length" if self.length is None else "bore"
            raise ValueError(f"{missing} is missing (or give a list of sections)")
        return self


class Runner(Pipe):
    """An intake runner with its mouth in the plenum.

    lengths: where the cylinders' runners differ (all are then computed), one length for each
    cylinder in order of cylinder number.
    """

    entry: Entry = Entry()
    lengths: list[Length] | None = None

    @model_validator(mode="after")
    def _lengths(self):
        if self.lengths is not None and self.sections is not None:
            raise ValueError("lengths goes with length and bore, not with sections")
        return self

    def of_cylinder(self, number: int) -> "Runner":
        """The runner of cylinder ``number`` (1, 2, ...)."""
        if self.lengths is None:
            return self
        return self.changed(length=self.lengths[number - 1], lengths=None)


class Lift(Part):
    """Valve lift: a cam card or a measured table.

    Cam card: the highest lift at the valve (maximum), or at the cam (cam_lift) with the
    rocker_ratio; events_at: the lift at which the valve's events hold, on the same side of the
    rocker as the highest lift; lash at the valve.
    """

    maximum: Small | None = None
    cam_lift: Small | None = None
    rocker_ratio: plain_number(0.5, 3.0) = 1.0
    events_at: Small = 0.0
    lash: quantity("length", at_least="0 mm", at_most="2 mm") = 0.0
    angle: list[Degrees] | None = None
    lift: list[Small] | None = None

    @property
    def highest(self) -> float | None:
        """Highest lift of the card at the valve before lash, m; None for a table."""
        return self.maximum if self.cam_lift is None else self.rocker_ratio * self.cam_lift

    @property
    def events_lift(self) -> float:
        """Lift at the valve, before lash, at which the events hold, m."""
        return self.events_at * (1.0 if self.cam_lift is None else self.rocker_ratio)

    @model_validator(mode="after")
    def _one_way(self):
        table = self.angle is not None or self.lift is not None
        if table + (self.maximum is not None) + (self.cam_lift is not None) != 1:
            raise ValueError("give one of maximum, cam_lift, or a table (angle and lift)")
        if self.rocker_ratio != 1.0 and self.cam_lift is None:
            raise ValueError("rocker_ratio goes with cam_lift (lifts at the valve need none)")
        if table:
            self._check_table()
        elif self.events_lift + self.lash >= self.highest:
            raise ValueError("the highest lift must be greater than events_at plus lash")
        return self

    def _check_table(self):
        if self.angle is None or self.lift is None or len(self.angle) != len(self.lift):
            raise ValueError("angle and lift must be lists of the same length")
        rising = all(b > a for a, b in zip(self.angle, self.angle[1:], strict=False))
        if len(self.angle) < 5 or not rising or self.angle[0] != 0.0:
            raise ValueError("angle must start at 0 deg, rise, and have at least 5 entries")
        if max(self.lift) <= 0.0:
            raise ValueError("the lift table never opens the valve")


class Bench(Part):
    """Flow-bench readings: volume flow at room state against lift, at a constant depression, with
    all valves of the port open together; reverse_flow: blown the other way."""

    depression: quantity("pressure", above="0.1 kPa", at_most="30 kPa")
    lift: list[Small]
    flow: list[Flow]
    reverse_flow: list[Flow] | None = None
    pressure: Pressure = 101325.0
    temperature: quantity("temperature", at_least="-20 degC", at_most="60 degC") = 293.15


class Discharge(Part):
    """Discharge coefficient against lift over valve diameter, or the bench readings behind it;
    factor: multiplier of the coefficients (a calibration against a measured pull gives one)."""

    factor: plain_number(0.3, 2.0) = 1.0
    reference: Literal["curtain", "geometric", "seat"] = "curtain"
    lift_ratio: list[plain_number(0.0, 1.0)] | None = None
    forward: list[plain_number(0.0, 1.2)] | None = None
    reverse: list[plain_number(0.0, 1.2)] | None = None
    bench: Bench | None = None

    @model_validator(mode="after")
    def _lengths(self):
        table = self.lift_ratio is not None and self.forward is not None
        partly = table or self.lift_ratio or self.forward or self.reverse
        if self.bench is not None and partly:
            raise ValueError("give either bench readings, or lift_ratio and forward, not both")
        if self.bench is None and not table:
            raise ValueError("lift_ratio and forward are due here (or bench readings)")
        b = self.bench
        names = ("lift_ratio", "forward", "reverse") if table else ("lift", "flow", "reverse_flow")
        group = self if table else b
        x, fore, back = (getattr(group, name) for name in names)
        if len(x) < 2 or len(fore) != len(x) or len(back or x) != len(x):
            listed = f"{names[0]}, {names[1]} and {names[2]}"
            raise ValueError(f"{listed} must have the same number of entries, 2 or more")
        if any(y <= z for z, y in pairwise(x)):
            raise ValueError(f"{names[0]} must rise")
        if not table and x[0] <= 0.0:
            raise ValueError("the first lift of the bench readings must be greater than 0")
        return self


class Valve(Part):
    """Poppet valves of one kind.

    Their events at lift.events_at: opening and closing (see the two kinds below), or duration and
    centreline, or duration alone with ``cam``'s lobe separation.
    """

    count: whole_number(1, 4) = 1
    diameter: Bore
    stem: Bore = 0.006
    seat_angle: quantity("angle", at_least="15 deg", at_most="75 deg") = 45.0
    seat_width: quantity("length", above="0 mm", at_most="10 mm") = 0.0015
    lift: Lift
    discharge: Discharge
    duration: CrankAngle | None = None

    @model_validator(mode="after")
    def _size(self):
        if self.diameter - 2.0 * self.seat_width <= self.stem:
            raise ValueError("the stem fills the valve throat: diameter - 2 seat_width <= stem")
        return self

    def _check_ways(self, opens: str, closes: str, centreline: str):
        events = [getattr(self, name) is not None for name in (opens, closes)]
        centre = getattr(self, centreline) is not None
        if any(events) and (not all(events) or self.duration is not None or centre):
            raise ValueError(f"give {opens} and {closes}, or duration and {centreline}, not a mix")
        if not any(events) and self.duration is None:
            raise ValueError(f"{opens} and {closes} are missing (or duration and {centreline})")
        return self

    def _around(self, centre: float) -> tuple[float, float]:
        return centre - 0.5 * self.duration, centre + 0.5 * self.duration


class IntakeValve(Valve):
    """Intake valves: events before top and after bottom dead centre, or the lobe's centreline
    after top dead centre."""

    opens_btdc: Degrees | None = None
    closes_abdc: Degrees | None = None
    centreline_atdc: Degrees | None = None

    @model_validator(mode="after")
    def _ways(self):
        return self._check_ways("opens_btdc", "closes_abdc", "centreline_atdc")


class ExhaustValve(Valve):
    """Exhaust valves: events before bottom and after top dead centre, or the lobe's centreline
    before top dead centre."""

    opens_bbdc: Degrees | None = None
    closes_atdc: Degrees | None = None
    centreline_btdc: Degrees | None = None

    @model_validator(mode="after")
    def _ways(self):
        return self._check_ways("opens_bbdc", "closes_atdc", "centreline_btdc")


class Cam(Part):
    """Where the lobes stand, for valves that give a duration only: half the angle between the two
    lobe centres in crank degrees (lobe separation), and by how much the cam is advanced."""

    lobe_separation: quantity("angle", at_least="80 deg", at_most="140 deg")
    advance: quantity("angle", at_least="-30 deg", at_most="30 deg") = 0.0


class Throttle(Part):
    """Butterfly throttle between air and plenum, for the whole engine."""

    bore: Bore
    shaft: quantity("length", at_least="0 mm", at_most="30 mm") = 0.01
    angle: quantity("angle", above="0 deg", at_most="90 deg") = 90.0
    closed_angle: quantity("angle", at_least="0 deg", at_most="30 deg") = 0.0
    discharge_coefficient: plain_number(0.1, 1.0) = 0.85


class Plenum(Part):
    """Plenum of the whole engine."""

    volume: Volume


class Intake(Part):
    """From the air to the cylinder; without throttle and plenum the runners draw from open air."""

    ambient: Ambient = Ambient()
    throttle: Throttle | None = None
    plenum: Plenum | None = None
    runner: Runner
    port: Pipe
    valve: IntakeValve

    @model_validator(mode="after")
    def _space(self):
        if (self.throttle is None) != (self.plenum is None):
            missing = "throttle" if self.throttle is None else "plenum"
            raise ValueError(
                f"{missing} is missing (or leave out both: the runners then draw from open air)"
            )
        return self


class Outlet(Part):
    """What the exhaust pipe opens into."""

    pressure: Pressure | None = None
    temperature: GasTemperature = 600.0


class Collector(Pipe):
    """Where primaries meet and go on as one pipe (all cylinders are then computed); groups of
    cylinder numbers, each with a pipe of its own; without groups all cylinders share one."""

    groups: list[list[int]] | None = None


class Exhaust(Part):
    """From the cylinder to the air."""

    valve: ExhaustValve
    port: Pipe
    primary: Pipe
    collector: Collector | None = None
    outlet: Outlet = Outlet()


class Mixture(Part):
    """Fuel and how it reaches the cylinder: as vapour with all the air (premixed), sprayed at the
    intake valve (port), or into the cylinder after the valve has shut (direct).

    charge_cooling: share of the latent heat that the charge supplies, walls supply the rest; not
    used for premixed vapour.
    """

    air_fuel_ratio: plain_number(8.0, 40.0) | None = None
    relative_air_fuel_ratio: plain_number(0.6, 2.0) | None = None
    delivery: Literal["premixed", "port", "direct"] = "premixed"
    charge_cooling: plain_number(0.0, 1.0) = 1.0
    heating_value: quantity("specific energy", above="10 MJ/kg", at_most="60 MJ/kg") = 44.0e6
    latent_heat: quantity("specific energy", at_least="0 kJ/kg", at_most="1500 kJ/kg") = 305e3

    @model_validator(mode="after")
    def _one_ratio(self):
        if (self.air_fuel_ratio is None) == (self.relative_air_fuel_ratio is None):
            raise ValueError("give either air_fuel_ratio or relative_air_fuel_ratio (lambda)")
        return self


def _phasing(value):
    """An angle, or None for 'best'."""
    checked = quantity("angle", at_least="-20 deg", at_most="60 deg").__metadata__[0].func
    return None if value == "best" else checked(value)


class Combustion(Part):
    """Burn phasing of the Wiebe law.

    ca50: an angle, or ``best``: the one with most torque is searched for at every speed. The burn
    takes duration_10_90 x (rpm / reference_speed)^speed_exponent x (1 + residual_factor x residual
    share of the charge); the defaults leave it as it is.
    """

    ca50: Annotated[float | None, BeforeValidator(_phasing)] = 8.0
    duration_10_90: quantity("angle", at_least="0.1 deg", at_most="120 deg") = 25.0
    reference_speed: Speed = 3000.0
    speed_exponent: plain_number(0.0, 1.5) = 0.0
    residual_factor: plain_number(0.0, 10.0) = 0.0
    form: plain_number(0.1, 6.0) = 2.0
    efficiency: plain_number(0.5, 1.0) = 0.97


class CylinderWalls(Part):
    """Cylinder heat transfer; factor: multiplier of the law, exchange_factor: another one while a
    valve is open."""

    model: Literal["woschni", "annand", "hohenberg", "adiabatic"] = "woschni"
    factor: plain_number(0.0, 5.0) = 1.0
    exchange_factor: plain_number(0.0, 5.0) = 1.0
    head: WallTemperature = 470.0
    piston: WallTemperature = 500.0
    liner: WallTemperature = 410.0


class Friction(Part):
    """FMEP = constant + peak_pressure p_max + speed Sp + speed_squared Sp^2 (cylinder/friction.py).

    Defaults: of the size measured on motored spark-ignition engines; common practice, no source.
    """

    constant: quantity("pressure", at_least="0 kPa", at_most="500 kPa") = 0.5e5
    peak_pressure: plain_number(0.0, 0.1) = 0.005
    speed: quantity("pressure per speed", at_least="0 bar*s/m", at_most="1 bar*s/m") = 0.06e5
    speed_squared: quantity(
        "pressure per speed squared", at_least="0 bar*s^2/m^2", at_most="0.1 bar*s^2/m^2"
    ) = 0.0008e5


class Speeds(Part):
    """Engine speeds to compute, and the range that matters to the user."""

    start: Speed = Field(default=1500.0, alias="from")
    stop: Speed = Field(default=6000.0, alias="to")
    step: quantity("speed of rotation", above="0 rpm", at_most="10000 rpm") = 500.0
    interest_from: Speed | None = None
    interest_to: Speed | None = None

    @model_validator(mode="after")
    def _order(self):
        if self.stop < self.start:
            raise ValueError("'to' must not be below 'from'")
        if (self.stop - self.start) / self.step > 1000:
            raise ValueError("more than 1000 speeds: make the step larger")
        pair = (self.interest_from, self.interest_to)
        if (pair[0] is None) != (pair[1] is None):
            raise ValueError("interest_from and interest_to belong together")
        if pair[0] is not None and not self.start <= pair[0] < pair[1] <= self.stop:
            raise ValueError("the range of interest must lie within 'from' and 'to'")
        return self


class Numerics(Part):
    """Mesh and step. The defaults are what the results are checked at; cells left out go with the
    size of the cylinder (see EngineFile.cells)."""

    intake_cell: quantity("length", at_least="1 mm", at_most="100 mm") | None = None
    exhaust_cell: quantity("length", at_least="1 mm", at_most="200 mm") | None = None
    courant: plain_number(0.1, 1.0) = 0.9
    method: Literal["conservative", "mesh"] = "conservative"
    repeat_within: plain_number(1e-6, 0.01) = 0.0005
    most_cycles: whole_number(3, 500) = 150


CELLS, CELLS_FOR = (0.012, 0.020), 450e-6  # m, m3
SAME_LENGTH, SAME_ANGLE = 1e-4, 0.5  # m, deg: smaller differences of cylinders do not count


class EngineFile(Part):
    """The whole file.

    model: ``single`` computes one cylinder and lets the others repeat it, ``manifold`` computes
    all; left out, it is single wherever that gives the manifold's answer.
    """

    title: str = ""
    model: Literal["single", "manifold"] | None = None
    engine: Cylinders
    cam: Cam | None = None
    intake: Intake
    exhaust: Exhaust
    mixture: Mixture
    combustion: Combustion = Combustion()
    cylinder_walls: CylinderWalls = CylinderWalls()
    friction: Friction = Friction()
    speeds: Speeds = Speeds()
    numerics: Numerics = Numerics()
    pull: Measured = Measured()

    @model_validator(mode="after")
    def _lobes(self):
        for valve, name in ((self.intake.valve, "centreline_atdc"),
                            (self.exhaust.valve, "centreline_btdc")):  # fmt: skip
            placed = valve.duration is None or getattr(valve, name) is not None
            if not placed and self.cam is None:
                raise ValueError(f"a duration needs {name}, or cam.lobe_separation for both valves")
        return self

    @property
    def cells(self) -> tuple[float, float]:
        """Target lengths of cells in intake and exhaust, m: those of ``numerics``, or CELLS for a
        cylinder of CELLS_FOR and more, in proportion to its size (cube root) for a smaller one."""
        e, n = self.engine, self.numerics
        swept = 0.25 * pi * e.bore**2 * e.stroke
        scale = min(1.0, (swept / CELLS_FOR) ** (1.0 / 3.0))
        intake, exhaust = (scale * c for c in CELLS)
        return n.intake_cell or intake, n.exhaust_cell or exhaust

    @property
    def differing(self) -> str:
        """What makes the cylinders differ, so that one cannot stand for all; "" if nothing does."""
        if self.exhaust.collector is not None:
            return "exhaust.collector"
        lengths, angles = self.intake.runner.lengths, self.engine.firing_angles
        if lengths is not None and max(lengths) - min(lengths) > SAME_LENGTH:
            return "intake.runner.lengths"
        even = 720.0 / self.engine.cylinders
        uneven = angles and any(abs(a - k * even) > SAME_ANGLE for k, a in enumerate(angles))
        return "engine.firing_angles" if uneven else ""

    @property
    def whole(self) -> bool:
        """Whether all cylinders are computed."""
        return self.model == "manifold" or (self.model is None and bool(self.differing))

    @property
    def has_echoes(self) -> bool:
        """Whether one cylinder is computed and the others repeat it at the plenum."""
        several = self.engine.cylinders > 1
        return several and not self.whole and self.intake.plenum is not None

    def with_intake(self, **changes) -> "EngineFile":
        """The engine with some keys of its intake changed."""
        return self.changed(intake=self.intake.changed(**changes))

    def intake_events(self) -> tuple[float, float]:
        """Opening and closing of the intake valve in degrees, 0 = firing top dead centre."""
        v = self.intake.valve
        if v.duration is None:
            return 360.0 - v.opens_btdc, 540.0 + v.closes_abdc
        centre = v.centreline_atdc
        if centre is None:
            centre = self.cam.lobe_separation - self.cam.advance
        return v._around(360.0 + centre)

    def exhaust_events(self) -> tuple[float, float]:
        """Opening and closing of the exhaust valve in degrees, 0 = firing top dead centre."""
        v = self.exhaust.valve
        if v.duration is None:
            return 180.0 - v.opens_bbdc, 360.0 + v.closes_atdc
        centre = v.centreline_btdc
        if centre is None:
            centre = self.cam.lobe_separation + self.cam.advance
        return v._around(360.0 - centre)
