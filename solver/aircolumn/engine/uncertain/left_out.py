"""What an engine file may leave out, and how far off what is then assumed can plausibly be: the rows of
left_out.yaml, and the conditions and values that these name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml

from aircolumn.engine.description.make import ROUGHNESS
from aircolumn.engine.description.pipes import ENGINE_PIPES
from aircolumn.engine.uncertain.parts_left_out import CHANGES
from aircolumn.engine.uncertain.row import LeftOut
from aircolumn.engine.uncertain.unsure import ABOVE, OWN, PLUS, TIMES

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.pipes import Pipe

#: Places that rows name together.
GROUPS = {
    "INTAKE PIPES": ("intake.runner", "intake.port", "intake.plenum.log", "intake.inlet.*.pipe"),
    "EXHAUST PIPES": ("exhaust.port", "exhaust.primary", "exhaust.collector", "exhaust.merge"),
    "JUNCTIONS": ("exhaust.collector", "exhaust.merge"),
    "VALVES": ("intake.valve", "exhaust.valve"),
}
WAYS = {"plus_minus": PLUS, "times": TIMES, "above": ABOVE, "half_width": OWN}


def _bent(pipe: Pipe) -> bool:
    """Whether a pipe has a bend whose loss is not stated."""
    return bool(pipe.bend_angle) or any(
        s.bend_angle and (s.bend_loss is None or pipe.is_drawn) for s in pipe.sections or ()
    )


def _by_events(side: str) -> Callable[[Engine], bool]:
    """Whether a valve's lift is made of its events."""

    def told(engine: Engine) -> bool:
        lift = getattr(engine, side).valve.lift
        return lift.angle is None and lift.events_at is None and lift.events_at_cam is None

    return told


def _by_card(side: str, told: int) -> Callable[[Engine], bool]:
    """Whether a valve's lift is made of its card, with less than ``told`` further durations."""

    def made(engine: Engine) -> bool:
        lift = getattr(engine, side).valve.lift
        return lift.angle is None and len(lift.durations or ()) < told

    return made


def _one_way(side: str) -> Callable[[Engine], bool]:
    """Whether a valve's discharge is stated in the usual direction only."""

    def made(engine: Engine) -> bool:
        d = getattr(engine, side).valve.discharge
        return d.reverse is None and (d.bench is None or d.bench.reverse_flow is None)

    return made


def _liquid(engine: Engine, delivery: str | None = None) -> bool:
    """Whether the fuel evaporates, (delivered in this way)."""
    mixture = engine.mixture
    return mixture.burnt.latent_heat > 0.0 and delivery in (None, mixture.delivery)


def _drops(engine: Engine) -> bool:
    return _liquid(engine, "port") and engine.mixture.charge_cooling is None


CONDITIONS: dict[str, Callable[[Engine], bool]] = {
    "no supply": lambda e: e.intake.supply is None,
    "cam stated": lambda e: e.cam is not None,
    "throttle": lambda e: e.intake.throttle is not None,
    "no entry stated": lambda e: "entry" not in e.intake.runner.model_fields_set,
    "intake.runner straight": lambda e: bool(e.intake.runner.is_straight),
    "intake.port straight": lambda e: bool(e.intake.port.is_straight),
    "exhaust.port straight": lambda e: bool(e.exhaust.port.is_straight),
    "exhaust.primary straight": lambda e: bool(e.exhaust.primary.is_straight),
    "intake bent": lambda e: _bent(e.intake.runner) or _bent(e.intake.port),
    "exhaust bent": lambda e: _bent(e.exhaust.primary) or any(map(_bent, e.exhaust.gathered.values())),
    "lift by events": lambda e: e.intake.valve.lift.angle is None,
    "events of the intake": _by_events("intake"),
    "events of the exhaust": _by_events("exhaust"),
    "lift of the intake by its card alone": _by_card("intake", 1),
    "lift of the exhaust by its card alone": _by_card("exhaust", 1),
    "lift of the intake by less than two durations": _by_card("intake", 2),
    "lift of the exhaust by less than two durations": _by_card("exhaust", 2),
    "intake discharge one way": _one_way("intake"),
    "exhaust discharge one way": _one_way("exhaust"),
    "no back pressure stated": lambda e: (
        e.exhaust.silencer is None and e.exhaust.outlet.back_pressure is None
    ),
    "liquid fuel": _liquid,
    "liquid fuel, premixed": lambda e: _liquid(e, "premixed"),
    "liquid fuel, direct": lambda e: _liquid(e, "direct"),
    "drops and film computed": _drops,
    "direct injection": lambda e: e.mixture.delivery == "direct",
    "ca50 stated": lambda e: not isinstance(e.combustion.ca50, str),
}
VALUES: dict[str, Callable[[Engine], Any]] = {
    "as installed pipes": lambda e: ENGINE_PIPES,
    "ambient pressure": lambda e: e.intake.ambient.pressure,
    "heating value": lambda e: e.mixture.burnt.heating_value,
    "latent heat": lambda e: e.mixture.burnt.latent_heat,
    "cooling by the fuel": lambda e: e.mixture.from_charge,
    "evaporated by the fuel": lambda e: e.mixture.vapour_share,
    "usual crevices": lambda e: e.rings.crevices(e.block.clearance),
    "usual leak": lambda e: e.rings.area(e.block.bore),
}


def _row(keys: str, source: str, settle: str, **more: Any) -> LeftOut:
    """A row of left_out.yaml."""
    group, _, key = keys.partition(".")
    places = tuple(f"{part}.{key}" for part in GROUPS[group]) if group in GROUPS else (keys,)
    way = next((way for name, way in WAYS.items() if name in more), OWN)
    half_width = next((more[name] for name in WAYS if name in more), 0.0)
    value = more.get("value")
    return LeftOut(
        places,
        half_width,
        way,
        source,
        settle,
        VALUES[value] if isinstance(value, str) else value if value is None else lambda engine: value,
        CONDITIONS[more["when"]] if "when" in more else lambda engine: True,
        CHANGES[more["change"]](keys, half_width) if "change" in more else None,
        more.get("beside", ""),
        ROUGHNESS if "table" in more else None,
    )


_TABLE = Path(__file__).with_suffix(".yaml").read_text(encoding="utf-8")
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # a tenth of the time, where there is the C library
LEFT_OUT = tuple(_row(**row) for row in yaml.load(_TABLE, _LOADER))
#: Paths of keys that have a default and are taken as they then are (* for any), and why.
TAKEN_AS_IT_IS = {
    "a choice, not a figure": "*.entry.shape *.entry.free *.entry.end_correction *.valve.discharge.reference",
    "an angle or bore that follows from its neighbours": "*.sections.*",
    "where it lies and how it is made": "*.route.* space.* part.* traces.* fuelling.*",
    "part of a measured table": (
        "intake.valve.count exhaust.valve.count *.valve.lift.rocker_ratio *.valve.discharge.bench.*"
    ),
    "small beside what is counted": (
        "*.entry.wall_thickness intake.inlet.restrictor.throat_length intake.throttle.closed_angle"
        " mixture.fuel.oxygen combustion.mixture_exponent combustion.residual_factor combustion.zones"
    ),
    "a setting of the test, not of the engine": "intake.throttle.angle speeds.* numerics.* pull.*",
}
