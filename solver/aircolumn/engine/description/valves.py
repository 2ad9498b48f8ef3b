"""Valves of the engine file: lift, port flow, timing."""

from itertools import pairwise
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from aircolumn.constants import ATMOSPHERE
from aircolumn.engine.description.base import FileModel, PerCylinder, plain_number, required, whole_number
from aircolumn.engine.description.quantities import Bore, CrankAngle, Degrees, Flow, Pressure, Small
from aircolumn.engine.description.units import quantity
from aircolumn.flow.cylinder.valve_lift import FLANK, FLANKS, NOSE, NOSES, Lobe, lobe_of

SHORTEST = 40.0  # deg of a lift table: a valve opens for longer


class CardDuration(FileModel):
    """A duration of a cam card and the lift at which it is stated: of the valve (at), or of the lobe
    (at_cam, with the rocker_ratio). An advertised duration holds at the lift that its maker states,
    0.006 in of the lobe for many cams with hydraulic lifters."""

    at: Small | None = Field(None, description="lift of the valve at which it holds")
    at_cam: Small | None = Field(None, description="lift of the lobe at which it holds, in place of at")
    duration: CrankAngle = Field(description="between the two, crank degrees")

    def lift(self, rocker_ratio: float) -> float:
        """Lift at the valve, before lash, m."""
        return required(self.at) if self.at_cam is None else rocker_ratio * self.at_cam

    @model_validator(mode="after")
    def _one_lift(self) -> Self:
        if (self.at is None) == (self.at_cam is None):
            raise ValueError("give at (lift of the valve) or at_cam (lift of the lobe)")
        return self


class Lift(FileModel):
    """Valve lift: a cam card or a measured table.

    Cam card: the highest lift at the valve (maximum), or at the lobe (cam_lift) with the
    rocker_ratio. The lift at which the valve's events hold names its own side of the rocker:
    events_at is lift of the valve, events_at_cam lift of the lobe, and so is multiplied by the
    rocker_ratio. lash: at the valve, taken off its lift. The shape of the lift curve follows from further
    durations of the card, or from flank and nose (flow/cylinder/valve_lift.py).
    """

    maximum: Small | None = Field(None, description="of the valve")
    cam_lift: Small | None = Field(None, description="of the lobe, with rocker_ratio, in place of maximum")
    rocker_ratio: Annotated[float, plain_number(0.5, 3.0)] = Field(
        1.0, description="lift of the valve over lift of the lobe"
    )
    events_at: Small | None = Field(
        None, description="lift of the valve at which the events are stated; left out: at the seat"
    )
    events_at_cam: Small | None = Field(
        None,
        description="lift of the lobe at which they are stated, with rocker_ratio, in place of events_at",
    )
    lash: Annotated[float, quantity("length", at_least="0 mm", at_most="2 mm")] = Field(
        0.0, description="clearance taken off the lift"
    )
    durations: list[CardDuration] | None = Field(
        None,
        description="further durations of the card, each at a lift: they tell the lift curve's shape",
    )
    flank: Annotated[float, plain_number(*FLANKS)] = Field(
        FLANK, description="exponent of the lift curve's sides, highest (1 - |s|^nose)^flank; from durations"
    )
    nose: Annotated[float, plain_number(*NOSES)] = Field(
        NOSE, description="exponent of the lift curve's top: larger is flatter; from two durations or more"
    )
    angle: list[Degrees] | None = Field(None, description="crank degrees of a measured lift table")
    lift: list[Small] | None = Field(None, description="measured lift at those angles")

    @property
    def highest(self) -> float | None:
        """Highest lift of the card at the valve before lash, m; None for a table."""
        return self.maximum if self.cam_lift is None else self.rocker_ratio * self.cam_lift

    @property
    def events_lift(self) -> float:
        """Lift at the valve, before lash, at which the events hold, m."""
        if self.events_at_cam is not None:
            return self.rocker_ratio * self.events_at_cam
        return self.events_at or 0.0

    def lobe(self, duration: float) -> Lobe:
        """The lift curve of a card whose events are ``duration`` degrees apart. Raises ValueError if it has
        no such curve."""
        if not self.durations:
            return Lobe(self.flank, self.nose)
        highest = required(self.highest)
        card = [(self.events_lift, duration)]
        card += [(d.lift(self.rocker_ratio), d.duration) for d in self.durations]
        return lobe_of(tuple((lift / highest, at) for lift, at in card), self.nose)

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        table = self.angle is not None or self.lift is not None
        if table + (self.maximum is not None) + (self.cam_lift is not None) != 1:
            raise ValueError("give one of maximum, cam_lift, or a table (angle and lift)")
        if table:
            self._check_table()
        else:
            self._check_sides()
        return self

    def _check_sides(self) -> None:
        """Which side of the rocker each lift stands on is never left to be guessed."""
        if self.cam_lift is not None and self.events_at is not None:
            raise ValueError(
                "events_at is lift of the valve, cam_lift that of the lobe: write events_at_cam if"
                " the card states its events at a lift of the lobe (0.050 in, say), or maximum"
                " (cam_lift times rocker_ratio) in place of cam_lift if events_at is meant at the"
                " valve"
            )
        if self.events_at is not None and self.events_at_cam is not None:
            raise ValueError("give events_at (at the valve) or events_at_cam (at the lobe), not both")
        stated = self.durations or []
        at_lobe = any(d.at_cam is not None for d in stated)
        lobe = self.cam_lift is not None or self.events_at_cam is not None or at_lobe
        if "rocker_ratio" in self.model_fields_set and not lobe:
            raise ValueError(
                "rocker_ratio goes with cam_lift or events_at_cam (lifts at the valve need none)"
            )
        if (self.events_at_cam is not None or at_lobe) and "rocker_ratio" not in self.model_fields_set:
            name = "events_at_cam" if self.events_at_cam is not None else "at_cam"
            raise ValueError(f"{name} needs rocker_ratio (1 where the cam acts directly)")
        if stated and "flank" in self.model_fields_set:
            raise ValueError("flank follows from durations: give one of them")
        if len(stated) > 1 and "nose" in self.model_fields_set:
            raise ValueError("nose follows from two durations or more: leave it out")
        if any(d.lift(self.rocker_ratio) >= required(self.highest) for d in stated):
            raise ValueError("a duration is stated at a lift below the highest")
        if self.events_lift + self.lash >= required(self.highest):
            raise ValueError("the highest lift must be greater than the lift of the events plus lash")

    def _check_table(self) -> None:
        if self.events_at is not None or self.events_at_cam is not None:
            raise ValueError("a lift table begins where the valve's events say: it has no events_at")
        if self.durations is not None or {"flank", "nose"} & self.model_fields_set:
            raise ValueError("a lift table is the lift curve: it has no durations, flank or nose")
        if self.angle is None or self.lift is None or len(self.angle) != len(self.lift):
            raise ValueError("angle and lift must be lists of the same length")
        rising = all(b > a for a, b in zip(self.angle, self.angle[1:], strict=False))
        if len(self.angle) < 5 or not rising or self.angle[0] != 0.0:
            raise ValueError("angle must start at 0 deg, rise, and have at least 5 entries")
        if self.angle[-1] < SHORTEST:
            raise ValueError(f"angle must reach {SHORTEST:.0f} deg at least")
        if max(self.lift) <= self.lash:
            raise ValueError(
                "the lift table never opens the valve: its highest lift must be greater than lash"
            )


class Bench(FileModel):
    """Flow-bench readings: volume flow at room state against lift, at a constant pressure
    difference (depression), with all valves of the port open together; reverse_flow: the other way.
    What flows into the cylinder is drawn from the room, what flows out is blown into it
    (cylinder/flow_bench.py)."""

    depression: Annotated[float, quantity("pressure", above="0.1 kPa", at_most="30 kPa")] = Field(
        description="pressure difference during the test"
    )
    lift: list[Small] = Field(description="of the readings")
    flow: list[Flow] = Field(description="of all valves of one cylinder together, at room state")
    reverse_flow: list[Flow] | None = Field(None, description="the other way")
    pressure: Pressure = Field(ATMOSPHERE, description="barometer in the test room")
    temperature: Annotated[float, quantity("temperature", at_least="-20 degC", at_most="60 degC")] = Field(
        293.15, description="of the air in the test room"
    )


class Discharge(FileModel):
    """Discharge coefficient against lift over valve diameter, or the bench readings behind it;
    factor: multiplier of the coefficients (a calibration against a measured pull gives one); tilt and
    reverse_factor: what else benches differ in, for sensitivity (uncertain/left_out.py).
    with_port: the port was on the bench, so the readings hold its friction and bends and its pipe
    has none of its own; left out, it was for bench readings and was not for coefficients."""

    factor: Annotated[float, plain_number(0.3, 2.0)] = Field(
        1.0, description="multiplier of all coefficients"
    )
    tilt: Annotated[float, plain_number(-0.5, 0.5)] = Field(
        0.0,
        description="share by which coefficients at the highest lift of the table are larger, and at the"
        " lowest smaller, than stated",
    )
    reverse_factor: Annotated[float, plain_number(0.3, 2.0)] = Field(
        1.0, description="multiplier of the coefficients the other way"
    )
    with_port: bool | None = Field(None, description="whether the readings hold the port's losses")
    reference: Literal["curtain", "geometric", "seat"] = Field(
        "curtain", description="area the coefficients refer to"
    )
    lift_ratio: list[Annotated[float, plain_number(0.0, 1.0)]] | None = Field(
        None, description="lift over valve diameter of the table"
    )
    forward: list[Annotated[float, plain_number(0.0, 1.2)]] | None = Field(
        None, description="coefficients in the usual direction"
    )
    reverse: list[Annotated[float, plain_number(0.0, 1.2)]] | None = Field(
        None, description="coefficients the other way; left out: as forward"
    )
    bench: Bench | None = Field(None, description="flow-bench readings, in place of coefficients")

    @property
    def holds_port(self) -> bool:
        """Whether the coefficients hold the losses of the port."""
        return self.bench is not None if self.with_port is None else self.with_port

    @model_validator(mode="after")
    def _lengths(self) -> Self:
        table = self.lift_ratio is not None and self.forward is not None
        partly = table or self.lift_ratio or self.forward or self.reverse
        if self.bench is not None and partly:
            raise ValueError("give either bench readings, or lift_ratio and forward, not both")
        if self.bench is None and not table:
            raise ValueError("lift_ratio and forward are expected here (or bench readings)")
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


class Valve(PerCylinder):
    """Poppet valves of one kind.

    Their events at the lift that ``lift`` states: opening and closing (see the two kinds below), or
    duration and centreline, or duration alone with ``cam``'s lobe separation.
    """

    count: Annotated[int, whole_number(1, 4)] = Field(1, description="valves of this kind in a cylinder")
    diameter: Bore = Field(description="of the head")
    stem: Bore = Field(0.006, description="diameter")
    seat_angle: Annotated[float, quantity("angle", at_least="15 deg", at_most="75 deg")] = Field(
        45.0, description="from the plane of the head"
    )
    seat_width: Annotated[float, quantity("length", at_least="0.1 mm", at_most="10 mm")] = Field(
        0.0015, description="along the seat"
    )
    lift: Lift = Field(description="lift and lobe")
    discharge: Discharge = Field(description="coefficients or flow-bench readings")
    duration: CrankAngle | None = Field(None, description="open, at the lift of the events (lift.events_at)")

    forward_is_out: ClassVar[bool]  # whether forward flow leaves the cylinder

    @model_validator(mode="after")
    def _size(self) -> Self:
        if self.diameter - 2.0 * self.seat_width <= self.stem:
            raise ValueError("the stem fills the valve throat: diameter - 2 seat_width <= stem")
        return self

    def _check_ways(self, opens: str, closes: str, centreline: str) -> Self:
        events = [getattr(self, name) is not None for name in (opens, closes)]
        centre = getattr(self, centreline) is not None
        if any(events) and (not all(events) or self.duration is not None or centre):
            raise ValueError(f"give {opens} and {closes}, or duration and {centreline}, not a mix")
        if not any(events) and self.duration is None:
            raise ValueError(f"{opens} and {closes} are missing (or duration and {centreline})")
        return self

    def _around(self, centre: float) -> tuple[float, float]:
        half = 0.5 * required(self.duration)
        return centre - half, centre + half


class IntakeValve(Valve):
    """Intake valves: events before top and after bottom dead centre, or the lobe's centreline
    after top dead centre."""

    forward_is_out: ClassVar[bool] = False
    opens_btdc: Degrees | None = Field(None, description="before top dead centre, at the lift of the events")
    closes_abdc: Degrees | None = Field(
        None, description="after bottom dead centre, at the lift of the events"
    )
    centreline_atdc: Degrees | None = Field(
        None, description="lobe centre after top dead centre, with a duration"
    )

    @model_validator(mode="after")
    def _ways(self) -> Self:
        return self._check_ways("opens_btdc", "closes_abdc", "centreline_atdc")


class ExhaustValve(Valve):
    """Exhaust valves: events before bottom and after top dead centre, or the lobe's centreline
    before top dead centre."""

    forward_is_out: ClassVar[bool] = True
    opens_bbdc: Degrees | None = Field(
        None, description="before bottom dead centre, at the lift of the events"
    )
    closes_atdc: Degrees | None = Field(None, description="after top dead centre, at the lift of the events")
    centreline_btdc: Degrees | None = Field(
        None, description="lobe centre before top dead centre, with a duration"
    )

    @model_validator(mode="after")
    def _ways(self) -> Self:
        return self._check_ways("opens_bbdc", "closes_atdc", "centreline_btdc")


class Cam(FileModel):
    """Where the lobes stand, for valves that give a duration only: half the angle between the two
    lobe centres in crank degrees (lobe separation), and by how much the cam is advanced."""

    lobe_separation: Annotated[float, quantity("angle", at_least="80 deg", at_most="140 deg")] = Field(
        description="half the angle between the two lobe centres, crank degrees"
    )
    advance: Annotated[float, quantity("angle", at_least="-30 deg", at_most="30 deg")] = Field(
        0.0, description="by how much the whole cam is advanced"
    )
