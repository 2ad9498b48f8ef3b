"""What an engine file may leave out, and how far off what is then assumed can plausibly be.

A spread is the half-width of the interval that holds the true value in 95 of 100 engines (unsure.py). Few of
them are published; where none is known it says so. Rows of one spread move together: what is wrong with
the friction of a runner is wrong with its port's.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from aircolumn.engine.description.make import ROUGHNESS
from aircolumn.engine.description.pipes import ENGINE_PIPES
from aircolumn.engine.uncertain.charge_left_out import CHARGE
from aircolumn.engine.uncertain.parts_left_out import PARTS
from aircolumn.engine.uncertain.row import MEMORY, PRACTICE, LeftOut
from aircolumn.engine.uncertain.unsure import ABOVE, PLUS, TIMES

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.pipes import Pipe

#: "*": every element of a list that has such a part
INTAKE_PIPES = ("intake.runner", "intake.port", "intake.plenum.log", "intake.inlet.*.pipe")
EXHAUST_PIPES = ("exhaust.port", "exhaust.primary", "exhaust.collector", "exhaust.merge")
VALVES = ("intake.valve", "exhaust.valve")


def _of(parts: tuple[str, ...], key: str) -> tuple[str, ...]:
    return tuple(f"{part}.{key}" for part in parts)


def _naturally(engine: Engine) -> bool:
    return engine.intake.supply is None


def _by_events(side: str) -> Callable[[Engine], bool]:
    """Whether a valve's lift is made of its events."""

    def told(engine: Engine) -> bool:
        lift = getattr(engine, side).valve.lift
        return lift.angle is None and lift.events_at is None and lift.events_at_cam is None

    return told


HANDBOOK = "handbook tables of roughness in the library fluids"
BEND_FITS = f"published fits of bends differ by a third (fluids: Rennels, Miller, Ito), {MEMORY}"


def _bent(pipe: Pipe) -> bool:
    """Whether a pipe has a bend whose loss is not stated."""
    return bool(pipe.bend_angle) or any(
        s.bend_angle and (s.bend_loss is None or pipe.is_drawn) for s in pipe.sections or ()
    )


def _straight(place: str) -> Callable[[Engine], bool]:
    """Whether the pipe of a place has no bend stated."""
    side, name = place.split(".")

    def told(engine: Engine) -> bool:
        return bool(getattr(getattr(engine, side), name).is_straight)

    return told


LEFT_OUT = (
    *PARTS,
    LeftOut(("engine.pin_offset",), "0.5 mm", PLUS, PRACTICE, "measure the offset of the piston pin"),
    LeftOut(("cam.advance",), "2 deg", PLUS, PRACTICE, "degree the cam", when=lambda e: e.cam is not None),
    LeftOut(
        ("intake.ambient.pressure",),
        "2 kPa",
        PLUS,
        f"what weather does to a barometer at one place, {MEMORY}; height is not in it",
        "read the barometer on the day",
        when=_naturally,
    ),
    LeftOut(
        ("intake.ambient.temperature",), "10 K", PLUS, PRACTICE, "measure the inlet air", when=_naturally
    ),
    LeftOut(("intake.ambient.humidity",), 0.6, ABOVE, PRACTICE, "measure the humidity", when=_naturally),
    *(
        LeftOut(_of(pipes, "roughness"), wide, TIMES, source, f"say how {name} were made (make)", **by)
        for pipes, name in ((INTAKE_PIPES, "runner and port"), (EXHAUST_PIPES, "the exhaust pipes"))
        for wide, source, by in (
            (12.0, f"from drawn tube to castings, {HANDBOOK}", {"beside": "make"}),
            (1.5, f"within one make, {HANDBOOK}", {"beside": "make", "table": ROUGHNESS}),
        )
    ),
    LeftOut(
        _of(INTAKE_PIPES, "friction_factor"),
        0.15,
        TIMES,
        f"Moody 1944, Trans. ASME 66: charts hold within 10 to 15 %, {MEMORY}",
        "measure the pressure drop of runner and port on a flow bench",
    ),
    LeftOut(
        _of(EXHAUST_PIPES, "friction_factor"),
        0.15,
        TIMES,
        f"as the intake's, {MEMORY}",
        "measure the back pressure",
    ),
    *(
        LeftOut(
            (f"{place}.bend_angle",),
            wide,
            ABOVE,
            f"pipes of engines turn; {PRACTICE}",
            f"measure by how much the {name} turns (bend_angle; 0 deg: straight)",
            lambda e: 0.0,
            _straight(place),
        )
        for place, name, wide in (
            ("intake.runner", "runner", "150 deg"),
            ("intake.port", "intake port", "70 deg"),
            ("exhaust.port", "exhaust port", "90 deg"),
            ("exhaust.primary", "primary", "200 deg"),
        )
    ),
    LeftOut(
        _of(INTAKE_PIPES, "bend_factor"),
        0.35,
        TIMES,
        BEND_FITS,
        "put a bent runner beside a straight one on the flow bench",
        when=lambda e: _bent(e.intake.runner) or _bent(e.intake.port),
    ),
    LeftOut(
        _of(EXHAUST_PIPES, "bend_factor"),
        0.35,
        TIMES,
        BEND_FITS,
        "measure the back pressure",
        when=lambda e: _bent(e.exhaust.primary) or any(map(_bent, e.exhaust.gathered.values())),
    ),
    LeftOut(
        _of(INTAKE_PIPES, "heat_factor"),
        0.6,
        TIMES,
        "spread of the measurements that SAE 2002-01-0372 surveys",
        "measure the charge temperature at the port",
        lambda e: ENGINE_PIPES,
    ),
    LeftOut(
        _of(EXHAUST_PIPES, "heat_factor"),
        0.6,
        TIMES,
        "as the intake's",
        "measure the exhaust gas temperature along the primary",
        lambda e: ENGINE_PIPES,
    ),
    LeftOut(
        ("intake.runner.entry.loss",),
        1.0,
        TIMES,
        f"handbooks give 0.04 to 0.5 to 0.9 by shape, {MEMORY}",
        "look at the runner's mouth and say its shape (entry)",
        lambda e: 0.5,
        lambda e: "entry" not in e.intake.runner.model_fields_set,
    ),
    LeftOut(
        ("intake.throttle.shaft",),
        "2 mm",
        PLUS,
        PRACTICE,
        "measure the throttle shaft",
        when=lambda e: e.intake.throttle is not None,
    ),
    LeftOut(
        ("intake.throttle.discharge_coefficient",),
        0.08,
        PLUS,
        PRACTICE,
        "measure the pressure in the plenum at full load",
        when=lambda e: e.intake.throttle is not None,
    ),
    LeftOut(
        ("intake.plenum.log.runner_angle",),
        "15 deg",
        PLUS,
        PRACTICE,
        "measure the angle between runner and log",
    ),
    LeftOut(
        ("intake.inlet.*.restrictor.nozzle_loss",),
        0.5,
        TIMES,
        f"handbooks give 0.02 to 0.06 for rounded nozzles, {MEMORY}",
        "put the restrictor on a flow bench",
    ),
    LeftOut(_of(VALVES, "stem"), "1 mm", PLUS, PRACTICE, "measure the valve stems"),
    LeftOut(_of(VALVES, "seat_angle"), "1 deg", PLUS, PRACTICE, "measure the seat angles"),
    LeftOut(_of(VALVES, "seat_width"), "0.4 mm", PLUS, PRACTICE, "measure the seat widths"),
    *(
        LeftOut(
            (f"{side}.valve.lift.events_at",),
            "0.3 mm",
            ABOVE,
            PRACTICE,
            f"find out at which lift the {side} valve's events are stated",
            lambda e: 0.0,
            _by_events(side),
        )
        for side in ("intake", "exhaust")
    ),
    LeftOut(
        _of(VALVES, "lift.lash"),
        "0.2 mm",
        ABOVE,
        PRACTICE,
        "measure the valve lash",
        when=lambda e: e.intake.valve.lift.angle is None,
    ),
    LeftOut(
        ("intake.valve.discharge.factor",),
        0.05,
        TIMES,
        f"benches agree within 3 to 5 %; {PRACTICE}",
        "put the intake port on a flow bench, or log the air flow",
    ),
    LeftOut(
        ("exhaust.valve.discharge.factor",),
        0.05,
        TIMES,
        f"benches agree within 3 to 5 %; {PRACTICE}",
        "put the exhaust port on a flow bench",
    ),
    LeftOut(
        _of(("exhaust.collector", "exhaust.merge"), "angle"),
        "10 deg",
        PLUS,
        PRACTICE,
        "measure the angle at which the primaries meet",
    ),
    LeftOut(
        ("exhaust.outlet.pressure",),
        "12 kPa",
        ABOVE,
        "open pipes have none, road exhausts a tenth to a fifth of an atmosphere at rated power"
        " (owners' pages)",
        "measure the back pressure",
        lambda e: e.intake.ambient.pressure,
        lambda e: e.exhaust.silencer is None and e.exhaust.outlet.back_pressure is None,
    ),
    LeftOut(("exhaust.silencer.temperature",), "100 K", PLUS, PRACTICE, "measure the gas in the silencer"),
    LeftOut(("exhaust.outlet.temperature",), "150 K", PLUS, PRACTICE, "measure the gas at the tailpipe"),
    *CHARGE,
)
#: Paths of keys that have a default and are taken as they then are (* for any), and why.
TAKEN_AS_IT_IS = {
    "a choice, not a figure": "*.entry.shape *.entry.free *.entry.end_correction *.valve.discharge.reference",
    "an angle or bore that follows from its neighbours": "*.sections.*",
    "where it lies and how it is made": "*.route.* space.* part.* traces.*",
    "part of a measured table": (
        "intake.valve.count exhaust.valve.count *.valve.lift.rocker_ratio *.valve.discharge.bench.*"
    ),
    "small beside what is counted": (
        "*.entry.wall_thickness intake.inlet.restrictor.throat_length intake.throttle.closed_angle"
        " mixture.fuel.oxygen combustion.mixture_exponent combustion.residual_factor combustion.zones"
    ),
    "a setting of the test, not of the engine": "intake.throttle.angle speeds.* numerics.* pull.*",
}
