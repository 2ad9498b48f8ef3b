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


def _direct(engine: Engine) -> bool:
    return engine.mixture.delivery == "direct"


def _liquid(engine: Engine) -> bool:
    return engine.mixture.burnt.latent_heat > 0.0


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
    return any(s.bend_angle and (s.bend_loss is None or pipe.is_drawn) for s in pipe.sections or ())


LEFT_OUT = (
    *PARTS,
    LeftOut(("engine.pin_offset",), "0.5 mm", PLUS, PRACTICE, "measure the offset of the piston pin"),
    LeftOut(("cam.advance",), "2 deg", PLUS, PRACTICE, "degree the cam", when=lambda e: e.cam is not None),
    LeftOut(
        ("intake.ambient.pressure",),
        "2 kPa",
        PLUS,
        PRACTICE,
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
        lambda e: e.exhaust.silencer is None,
    ),
    LeftOut(("exhaust.silencer.temperature",), "100 K", PLUS, PRACTICE, "measure the gas in the silencer"),
    LeftOut(("exhaust.outlet.temperature",), "150 K", PLUS, PRACTICE, "measure the gas at the tailpipe"),
    LeftOut(
        ("mixture.heating_value",),
        0.012,
        TIMES,
        f"gasoline blends by their heats of formation differ by 1 %, certified ones by less, {MEMORY}",
        "ask the supplier for the fuel's lower heating value",
        lambda e: e.mixture.burnt.heating_value,
    ),
    LeftOut(
        ("mixture.latent_heat",),
        0.1,
        TIMES,
        f"tables of gasoline differ by 10 %, {MEMORY}",
        "ask the supplier for the fuel's latent heat",
        lambda e: e.mixture.burnt.latent_heat,
        _liquid,
    ),
    LeftOut(
        ("mixture.charge_cooling",),
        2.0,
        TIMES,
        f"{PRACTICE} (guide: what the level rests on)",
        "measure the charge temperature at the port",
        lambda e: e.mixture.from_charge,
        lambda e: _liquid(e) and e.mixture.delivery == "premixed",
    ),
    LeftOut(
        ("mixture.airborne",),
        1.0,
        TIMES,
        f"drops differ fivefold in size; {PRACTICE}",
        "measure the charge temperature at the port",
        when=lambda e: _liquid(e) and e.mixture.delivery == "port" and e.mixture.charge_cooling is None,
    ),
    LeftOut(
        ("mixture.film_coefficient",),
        1.5,
        TIMES,
        f"films differ sixfold in thickness; {PRACTICE}",
        "measure the charge temperature at the port",
        when=lambda e: _liquid(e) and e.mixture.delivery == "port" and e.mixture.charge_cooling is None,
    ),
    LeftOut(
        ("mixture.charge_cooling",),
        0.1,
        PLUS,
        PRACTICE,
        "measure the charge temperature at the port",
        lambda e: e.mixture.from_charge,
        lambda e: _liquid(e) and _direct(e),
    ),
    LeftOut(
        ("mixture.evaporated",),
        0.3,
        PLUS,
        PRACTICE,
        "measure the temperature of the mixture in the plenum",
        lambda e: e.mixture.vapour_share,
        lambda e: e.mixture.delivery == "premixed" and _liquid(e),
    ),
    LeftOut(
        ("mixture.injection_start",), "30 deg", PLUS, PRACTICE, "read the start of injection", when=_direct
    ),
    LeftOut(
        ("mixture.injection_duration",), "20 deg", PLUS, PRACTICE, "read the time of injection", when=_direct
    ),
    LeftOut(
        ("combustion.ca50",),
        "3 deg",
        PLUS,
        "best torque lies at 8 to 10 deg: Heywood, ch. 9, from memory",
        "measure the cylinder pressure",
        when=lambda e: not isinstance(e.combustion.ca50, str),
    ),
    LeftOut(
        ("combustion.duration_10_90",),
        "6 deg",
        PLUS,
        f"20 to 30 deg are usual, {MEMORY}",
        "measure the cylinder pressure",
    ),
    LeftOut(
        ("combustion.speed_exponent",), 0.3, ABOVE, PRACTICE, "measure the cylinder pressure at two speeds"
    ),
    LeftOut(("combustion.form",), 0.4, PLUS, PRACTICE, "measure the cylinder pressure"),
    LeftOut(
        ("combustion.efficiency",),
        0.02,
        PLUS,
        f"0.95 to 0.99 of warm engines, {MEMORY}",
        "measure the exhaust gas composition",
    ),
    LeftOut(
        ("cylinder_walls.factor",),
        0.25,
        TIMES,
        f"constants of one law differ by as much from engine to engine, {MEMORY}",
        "measure the heat to the coolant, or the torque of a known engine (pull --fit)",
    ),
    LeftOut(
        ("cylinder_walls.exchange_factor",),
        1.0,
        TIMES,
        "Woschni's constants for gas exchange are little tested (guide: what the level rests on)",
        "log the air flow",
    ),
    LeftOut(("cylinder_walls.head",), "30 K", PLUS, PRACTICE, "measure the temperature of the head"),
    LeftOut(("cylinder_walls.piston",), "40 K", PLUS, PRACTICE, "measure the temperature of the piston"),
    LeftOut(("cylinder_walls.liner",), "20 K", PLUS, PRACTICE, "measure the coolant temperature"),
    LeftOut(
        ("rings.leak_area",),
        1.0,
        TIMES,
        f"blow-by of half to two per cent of the charge is usual, {MEMORY}",
        "measure the blow-by",
        lambda e: e.rings.area(e.block.bore),
    ),
    LeftOut(("friction.constant",), "20 kPa", PLUS, PRACTICE, "motor the engine on the dyno"),
    LeftOut(("friction.peak_pressure",), 0.002, PLUS, PRACTICE, "motor the engine on the dyno"),
    LeftOut(("friction.speed",), "0.02 bar*s/m", PLUS, PRACTICE, "motor the engine on the dyno"),
    LeftOut(
        ("friction.speed_squared",), "0.0004 bar*s^2/m^2", PLUS, PRACTICE, "motor the engine on the dyno"
    ),
)
#: Keys that have a default, or may be left out, and are taken as they then are: why.
TAKEN_AS_IT_IS = {
    "a choice, not a figure": (
        "reference shape free end_correction groups firing_order firing_angles delivery name method"
    ),
    "an angle or bore that follows from its neighbours": "from to bend_angle bend_radius lengths sections",
    "where it lies and how it is made": "space part traces route sizes bend_loss perimeter",
    "part of a measured table": "reverse lift_ratio with_port bench reverse_flow rocker_ratio count",
    "small beside what is counted": (
        "wall_thickness closed_angle throat_length residual_factor oxygen diffuser_loss"
    ),
    "a setting of the test, not of the engine": "angle reference_speed supply speeds pull numerics title",
}
