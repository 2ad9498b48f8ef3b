"""The engine file's keys, their kinds and their limits. Values are SI once checked.

Angles stay in degrees and speeds in rev/min, as the trade writes them.
"""

from itertools import pairwise
from math import pi
from typing import Annotated, Literal

from pydantic import Field, model_validator

from aircolumn.description.exhaust import Exhaust
from aircolumn.description.inlet import Inlet, check_order
from aircolumn.description.kinds import (
    Bore,
    CrankAngle,
    Length,
    Share,
    Speed,
    WallTemperature,
)
from aircolumn.description.measured import Measured
from aircolumn.description.mixture import Mixture
from aircolumn.description.parts import OfEach, Part, given, plain_number, whole_number
from aircolumn.description.pipes import PipeOfEach, Runner
from aircolumn.description.plenum import Log, Plenum
from aircolumn.description.supply import Source, Supply
from aircolumn.description.units import Checked, quantity
from aircolumn.description.valves import Cam, IntakeValve


class Cylinders(Part):
    """The bottom end."""

    cylinders: Annotated[int, whole_number(1, 16)]
    bore: Bore
    stroke: Bore
    rod: Length
    pin_offset: Annotated[float, quantity("length", at_least="-20 mm", at_most="20 mm")] = 0.0
    compression_ratio: Annotated[float, plain_number(3.0, 25.0)]
    firing_order: list[Annotated[int, whole_number(1, 16)]] | None = None
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

    pressure: Annotated[float, quantity("pressure", at_least="50 kPa", at_most="120 kPa")] = (
        101325.0
    )
    temperature: Annotated[
        float, quantity("temperature", at_least="-50 degC", at_most="60 degC")
    ] = 298.15
    humidity: Share = 0.0


class Throttle(Part):
    """Butterfly throttle between air and plenum, for the whole engine."""

    bore: Bore
    shaft: Annotated[float, quantity("length", at_least="0 mm", at_most="30 mm")] = 0.01
    angle: Annotated[float, quantity("angle", above="0 deg", at_most="90 deg")] = 90.0
    closed_angle: Annotated[float, quantity("angle", at_least="0 deg", at_most="30 deg")] = 0.0
    discharge_coefficient: Annotated[float, plain_number(0.1, 1.0)] = 0.85

    @model_validator(mode="after")
    def _open(self):
        if self.shaft >= self.bore:
            raise ValueError("the shaft fills the bore: it must be thinner")
        if self.closed_angle >= self.angle:
            raise ValueError(
                "angle must be greater than closed_angle, where the blade shuts the bore"
            )
        return self


class Intake(Part):
    """From the air to the cylinder; without throttle and plenum the runners draw from open air.

    inlet: what the air passes before the throttle, in order; left out, open air. supply: the state
    of the air that is fed to it, as by a compressor; left out, the open air's.
    """

    ambient: Ambient = Ambient()
    supply: Supply | None = None
    inlet: Inlet | None = None
    throttle: Throttle | None = None
    plenum: Plenum | None = None
    runner: Runner
    port: PipeOfEach
    valve: IntakeValve

    @property
    def source(self) -> Source:
        """State of the air that comes in (of a supply by speed: at the first; see Supply.at)."""
        if self.supply is not None:
            return self.supply.source
        return Source(self.ambient.pressure, self.ambient.temperature)

    @property
    def log(self) -> Log | None:
        """The plenum, where it is a log."""
        return None if self.plenum is None else self.plenum.log

    @model_validator(mode="after")
    def _space(self):
        if (self.throttle is None) != (self.plenum is None):
            missing = "throttle" if self.throttle is None else "plenum"
            raise ValueError(
                f"{missing} is missing (or leave out both: the runners then draw from open air)"
            )
        if self.inlet is not None:
            if self.throttle is None:
                raise ValueError("an inlet leads to a throttle and a plenum: both are missing")
            check_order(self.inlet)
        return self


def _phasing(value):
    """An angle, or None for 'best'."""
    return None if value == "best" else _PHASING.check(value)


_PHASING = quantity("angle", at_least="-20 deg", at_most="60 deg")
_TEXT = f"{_PHASING.schema['description']}, or best"


class Combustion(Part):
    """Burn phasing of the Wiebe law.

    ca50: an angle, or ``best``: the one with most torque is searched for at every speed. The burn
    takes duration_10_90 x (rpm / reference_speed)^speed_exponent x (1 + residual_factor x residual
    share of the charge); the defaults leave it as it is. efficiency: of the heat that the oxygen
    there is could release; what crevices hide from the flame, 1 to 3 % of the fuel (Heywood 1988,
    section 11.4.3, from memory), is most of what is missing.
    """

    ca50: Annotated[
        float | None, Checked(_phasing, {"type": "string", "description": _TEXT}, "angle")
    ] = 8.0
    duration_10_90: Annotated[float, quantity("angle", at_least="0.1 deg", at_most="120 deg")] = (
        25.0
    )
    reference_speed: Speed = 3000.0
    speed_exponent: Annotated[float, plain_number(0.0, 1.5)] = 0.0
    residual_factor: Annotated[float, plain_number(0.0, 10.0)] = 0.0
    form: Annotated[float, plain_number(0.1, 6.0)] = 2.0
    efficiency: Annotated[float, plain_number(0.5, 1.0)] = 0.97


class CylinderWalls(Part):
    """Cylinder heat transfer; factor: multiplier of the law, exchange_factor: another one while a
    valve is open."""

    model: Literal["woschni", "annand", "hohenberg", "adiabatic"] = "woschni"
    factor: Annotated[float, plain_number(0.0, 5.0)] = 1.0
    exchange_factor: Annotated[float, plain_number(0.0, 5.0)] = 1.0
    head: WallTemperature = 470.0
    piston: WallTemperature = 500.0
    liner: WallTemperature = 410.0


class Rings(Part):
    """Blow-by: gas that leaks past the piston rings, as through an orifice for each cylinder into a
    crankcase at ambient pressure. leak_area: its effective area; left out, LEAK times the bore.

    Default: loses about half a per cent of the charge at full load, the low end of what is usual
    (half to two per cent, by an encyclopaedia's account; about 1 % is usual, from memory).
    """

    leak_area: Annotated[float, quantity("area", at_least="0 mm^2", at_most="20 mm^2")] | None = (
        None
    )

    def area(self, bore: float) -> float:
        """Effective area of a cylinder's leak, m2."""
        return LEAK * bore if self.leak_area is None else self.leak_area


class Friction(Part):
    """FMEP = constant + peak_pressure p_max + speed Sp + speed_squared Sp^2 (cylinder/friction.py).

    Defaults: of the size measured on motored spark-ignition engines; common practice, no source.
    """

    constant: Annotated[float, quantity("pressure", at_least="0 kPa", at_most="500 kPa")] = 0.5e5
    peak_pressure: Annotated[float, plain_number(0.0, 0.1)] = 0.005
    speed: Annotated[
        float, quantity("pressure per speed", at_least="0 bar*s/m", at_most="1 bar*s/m")
    ] = 0.06e5
    speed_squared: Annotated[
        float,
        quantity("pressure per speed squared", at_least="0 bar*s^2/m^2", at_most="0.1 bar*s^2/m^2"),
    ] = 0.0008e5


class Speeds(Part):
    """Engine speeds to compute, and the range that matters to the user.

    locate_within: speeds are added until humps, hollows and crossings of curves are located within
    this (curves/locate.py; 0: none are), most_added of them at most.
    """

    start: Speed = Field(default=1500.0, alias="from")
    stop: Speed = Field(default=6000.0, alias="to")
    step: Annotated[float, quantity("speed of rotation", above="0 rpm", at_most="10000 rpm")] = (
        500.0
    )
    locate_within: Annotated[
        float, quantity("speed of rotation", at_least="0 rpm", at_most="500 rpm")
    ] = 25.0
    most_added: Annotated[int, whole_number(0, 500)] = 40
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
    size of the cylinder (see Engine.cells)."""

    intake_cell: Annotated[float, quantity("length", at_least="1 mm", at_most="100 mm")] | None = (
        None
    )
    exhaust_cell: Annotated[float, quantity("length", at_least="1 mm", at_most="200 mm")] | None = (
        None
    )
    courant: Annotated[float, plain_number(0.1, 1.0)] = 0.9
    method: Literal["conservative", "mesh"] = "conservative"
    repeat_within: Annotated[float, plain_number(1e-6, 0.01)] = 0.0005
    most_cycles: Annotated[int, whole_number(3, 500)] = 150


LEAK = 2e-6  # m, effective area over bore (Rings)
CELLS, CELLS_FOR = (0.012, 0.020), 450e-6  # m, m3
SAME_LENGTH, SAME_ANGLE = 1e-4, 0.5  # m, deg: smaller differences of cylinders do not count


class Engine(Part):
    """An engine as its file describes it (block: the file's section ``engine``).

    model: ``single`` computes one cylinder and lets the others repeat it, ``manifold`` computes
    all; left out, it is single wherever that gives the manifold's answer.
    """

    title: str = ""
    model: Literal["single", "manifold"] | None = None
    block: Cylinders = Field(alias="engine")
    cam: Cam | None = None
    intake: Intake
    exhaust: Exhaust
    mixture: Mixture
    combustion: Combustion = Combustion()
    cylinder_walls: CylinderWalls = CylinderWalls()
    rings: Rings = Rings()
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
        e, n = self.block, self.numerics
        swept = 0.25 * pi * e.bore**2 * e.stroke
        scale = min(1.0, (swept / CELLS_FOR) ** (1.0 / 3.0))
        intake, exhaust = (scale * c for c in CELLS)
        return n.intake_cell or intake, n.exhaust_cell or exhaust

    @property
    def of_each(self) -> dict[tuple[str, str], OfEach]:
        """The parts that every cylinder has, by their place in the file."""
        i, x = self.intake, self.exhaust
        return {
            ("intake", "runner"): i.runner,
            ("intake", "port"): i.port,
            ("intake", "valve"): i.valve,
            ("exhaust", "port"): x.port,
            ("exhaust", "primary"): x.primary,
            ("exhaust", "valve"): x.valve,
        }

    def of_cylinder(self, number: int) -> "Engine":
        """The engine with the parts of cylinder ``number`` (1, 2, ...) as those of all."""
        own: dict[str, dict] = {"intake": {}, "exhaust": {}}
        for (side, name), part in self.of_each.items():
            own[side][name] = part.of_cylinder(number)
        return self.changed(
            intake=self.intake.changed(**own["intake"]),
            exhaust=self.exhaust.changed(**own["exhaust"]),
        )

    @property
    def differing(self) -> str:
        """What makes the cylinders differ, so that one cannot stand for all; "" if nothing does."""
        if self.exhaust.collector is not None:
            return "exhaust.collector"
        if self.intake.log is not None and self.block.cylinders > 1:
            return "intake.plenum.log"
        if self.exhaust.silencer is not None and self.block.cylinders > 1:
            return "exhaust.silencer"  # they share it, and what swings in it
        for path, part in self.of_each.items():
            if part.by_cylinder:
                return ".".join((*path, "by_cylinder"))
            lengths = getattr(part, "lengths", None) or [0.0]
            if max(lengths) - min(lengths) > SAME_LENGTH:
                return ".".join((*path, "lengths"))
        angles = self.block.firing_angles
        even = 720.0 / self.block.cylinders
        uneven = angles and any(abs(a - k * even) > SAME_ANGLE for k, a in enumerate(angles))
        return "engine.firing_angles" if uneven else ""

    @property
    def whole(self) -> bool:
        """Whether all cylinders are computed."""
        return self.model == "manifold" or (self.model is None and bool(self.differing))

    @property
    def has_echoes(self) -> bool:
        """Whether one cylinder is computed and the others repeat it at the plenum."""
        several = self.block.cylinders > 1
        return several and not self.whole and self.intake.plenum is not None

    def with_intake(self, **changes) -> "Engine":
        """The engine with some keys of its intake changed."""
        return self.changed(intake=self.intake.changed(**changes))

    def intake_events(self) -> tuple[float, float]:
        """Opening and closing of the intake valve in degrees, 0 = firing top dead centre."""
        v = self.intake.valve
        if v.duration is None:
            return 360.0 - given(v.opens_btdc), 540.0 + given(v.closes_abdc)
        centre = v.centreline_atdc
        if centre is None:
            cam = given(self.cam)
            centre = cam.lobe_separation - cam.advance
        return v._around(360.0 + centre)

    def exhaust_events(self) -> tuple[float, float]:
        """Opening and closing of the exhaust valve in degrees, 0 = firing top dead centre."""
        v = self.exhaust.valve
        if v.duration is None:
            return 180.0 - given(v.opens_bbdc), 360.0 + given(v.closes_atdc)
        centre = v.centreline_btdc
        if centre is None:
            cam = given(self.cam)
            centre = cam.lobe_separation + cam.advance
        return v._around(360.0 - centre)
