"""What the air passes on its way through an engine, in order: for its drawing.

The way is that of the first cylinder; where cylinders differ, that of a stated one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.piping import pipe_sections

if TYPE_CHECKING:
    from aircolumn.engine.description.inlet import InletElement
    from aircolumn.engine.description.plenum import Plenum

INTAKE, EXHAUST = "intake", "exhaust"


@dataclass(frozen=True)
class Bore:
    """A pipe: (length, first bore, last bore) of each of its sections, m; branches: how far from
    its beginning others leave it, m."""

    name: str
    side: str
    sections: list[tuple[float, float, float]]
    branches: tuple[float, ...] = ()

    @property
    def length(self) -> float:
        """Length of all cones together, m."""
        return sum(s[0] for s in self.sections)


@dataclass(frozen=True)
class Vessel:
    """A volume, m3."""

    name: str
    side: str
    volume: float


@dataclass(frozen=True)
class Gate:
    """A valve, throttle or filter: how many side by side, and how wide, m (0: as what is beside
    it)."""

    name: str
    side: str
    count: int
    width: float


@dataclass(frozen=True)
class Chamber:
    """The cylinder: bore, stroke, m; displacement of one, m3."""

    name: str
    side: str
    bore: float
    stroke: float
    volume: float


#: what the air passes
Part = Bore | Vessel | Gate | Chamber


def flow_path(engine: Engine, cylinder: int = 1) -> list[Part]:
    """From the open air to the open air through one cylinder."""
    engine = engine.of_cylinder(cylinder)
    i, block = engine.intake, engine.block
    path: list[Part] = [*_inlet(i.inlet or ())]
    if i.throttle is not None:
        path += [Gate("throttle", INTAKE, 1, i.throttle.bore), _plenum(required(i.plenum))]
    swept = geometry_of(engine).swept
    path += [
        Bore("runner", INTAKE, _sections(i.runner)),
        Bore("intake port", INTAKE, _sections(i.port, i.runner.last_bore)),
        Gate("intake valve", INTAKE, i.valve.count, i.valve.diameter),
        Chamber("cylinder", EXHAUST, block.bore, block.stroke, swept),
        *_exhaust(engine),
    ]
    return path


def _plenum(plenum: Plenum) -> Part:
    log = plenum.log
    if log is None:
        return Vessel("plenum", INTAKE, required(plenum.volume))
    return Bore("log", INTAKE, _sections(log), tuple(log.runners_at))


def _inlet(elements: Sequence[InletElement]) -> Iterator[Part]:
    """The things ahead of the throttle."""
    before = None
    for element in elements:
        if element.airbox is not None:
            yield Vessel("airbox", INTAKE, element.airbox.volume)
        elif element.filter is not None:
            yield Gate("filter", INTAKE, 1, 0.0)
        elif element.restrictor is not None:
            before = element.restrictor.bore
            yield Bore("restrictor", INTAKE, [s for s in element.restrictor.sections if s[0] > 0.0])
        else:
            pipe = required(element.pipe)
            yield Bore("inlet pipe", INTAKE, _sections(pipe, before))
            before = pipe.last_bore


def _exhaust(engine: Engine) -> Iterator[Part]:
    """From the exhaust valve on."""
    x = engine.exhaust
    yield Gate("exhaust valve", EXHAUST, x.valve.count, x.valve.diameter)
    yield Bore("exhaust port", EXHAUST, _sections(x.port))
    yield Bore("primary", EXHAUST, _sections(x.primary, x.port.last_bore))
    for name, pipe in x.gathered.items():
        yield Bore(name, EXHAUST, _sections(pipe))
    if x.silencer is not None:
        yield Vessel("silencer", EXHAUST, x.silencer.volume)


def _sections(pipe: Any, before: float | None = None) -> list[tuple[float, float, float]]:
    return [(s.length, s.start, s.end) for s in pipe_sections(pipe, before)]
