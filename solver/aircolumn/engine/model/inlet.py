"""The inlet as ducts, airboxes and losses between the open air and the plenum.

A filter is a throat whose effective area loses its pressure drop at its flow (incompressible):

    A = m / sqrt(2 rho dp)

Throats without room between them, a filter at the throttle, act as one: 1/A^2 = sum 1/A_k^2.

A restrictor is a duct with the shape of nozzle, throat and diffuser, in which the gas chokes and
recovers by itself. What it loses beyond that is spread along nozzle and diffuser so that slow flow
loses K of the throat's dynamic head: a drag k per metre on the local head, with

    K = k int (A_t / A)^2 dx.

K of the nozzle: 0.04, a well-rounded inlet; of the diffuser, over the whole angle theta from bore
d to D, beta = d/D (both Crane TP-410, 2009, appendix A, which rests on Gibson's measurements),

    K = 2.6 sin(theta/2) (1 - beta^2)^2 up to 45 degrees, (1 - beta^2)^2 beyond;

wall friction is part of these.

The flow chokes at (NACA Report 1135, eq. 99, with isentropic flow to M = 1)

    m = A p0 sqrt(gamma / (R T0)) (2 / (gamma + 1))^((gamma + 1) / (2 (gamma - 1)))
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import atan, inf, pi, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.constants import AIR_GAMMA, AIR_GAS_CONSTANT
from aircolumn.engine.description.base import required
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.model.piping import Piping, Segment, mouth_loss, pipe_shape
from aircolumn.flow.ends.nozzle import mass_flux
from aircolumn.flow.ends.openings import area_of_loss
from aircolumn.flow.network.items import Wall

if TYPE_CHECKING:
    from aircolumn.engine.description.inlet import Filter, InletElement, Restrictor
    from aircolumn.engine.model.engine_network import EngineNetwork


@dataclass(frozen=True)
class InletRun:
    """From one volume to the next: a duct (None: a mere throat), the loss of its mouth, and the
    effective areas, m2, of throats at its beginning and its end (inf: none); beyond: volume of the
    airbox at its end, m3 (None: the plenum)."""

    piping: Piping | None = None
    mouth: float = 0.0
    first: float = inf
    last: float = inf
    beyond: float | None = None


def inlet_runs(engine: Engine, throttle: float) -> list[InletRun]:
    """The inlet of an engine whose throttle has the effective area ``throttle``, m2."""
    density = outside_density(engine)
    found: list[InletRun] = []
    now = InletRun()
    for element in engine.intake.inlet or ():
        if element.filter is not None:
            area = filter_area(element.filter, density)
            now = replace(now, first=area) if now.piping is None else replace(now, last=area)
        elif element.airbox is not None:
            found.append(replace(now, beyond=element.airbox.volume))
            now = InletRun()
        else:
            now = _begun(now, element) if now.piping is None else now
            _add(required(now.piping), element)
    return [*found, replace(now, last=in_series(now.last, throttle))]


def _begun(stretch: InletRun, element: InletElement) -> InletRun:
    """With a duct that begins with an element, and the loss of its mouth."""
    piping = Piping()
    if element.pipe is None:  # the nozzle of a restrictor is its own mouth
        return replace(stretch, piping=piping)
    piping.add_mouth(element.pipe)
    return replace(stretch, piping=piping, mouth=mouth_loss(element.pipe))


def outside_density(engine: Engine) -> float:
    """Density of the air that comes in, kg/m3."""
    air = engine.intake.source
    return air.pressure / (AIR_GAS_CONSTANT * air.temperature)


def in_series(*areas: float) -> float:
    """The effective area that loses what several lose together."""
    return sum(a**-2.0 for a in areas) ** -0.5


def filter_area(element: Filter, density: float) -> float:
    """Effective area of a filter, m2."""
    return area_of_loss(element.flow, density, element.pressure_drop)


def smallest_area(engine: Engine, throttle: float) -> float:
    """Effective area, m2, that would pass what the inlet with its throttle passes, roughly."""
    ends = (area for s in inlet_runs(engine, throttle) for area in (s.first, s.last))
    return min(*ends, *(0.25 * pi * r.throat**2 for r in restrictors(engine)))


def choked_flow(engine: Engine) -> float:
    """The mass flow, kg/s, that the narrowest restrictor of the inlet can pass at most; inf without
    one."""
    most = mass_flux(engine.intake.source.pressure, outside_density(engine), AIR_GAMMA, 0.0)
    return 0.25 * pi * min((r.throat for r in restrictors(engine)), default=inf) ** 2 * most


def restrictors(engine: Engine) -> list:
    """The restrictors of the engine's inlet."""
    return [e.restrictor for e in engine.intake.inlet or () if e.restrictor is not None]


def loss_behind(restrictor: Restrictor) -> float:
    """Loss coefficient of a restrictor's diffuser: as stated, or that of a cone."""
    if restrictor.diffuser_loss is not None:
        return restrictor.diffuser_loss
    return cone_loss(restrictor.throat, restrictor.bore, restrictor.diffuser_length)


def cone_loss(narrow: float, wide: float, length: float) -> float:
    """K of a widening cone on the dynamic head in its narrow end (Crane TP-410)."""
    half = atan(0.5 * (wide - narrow) / length)
    lost = (1.0 - (narrow / wide) ** 2) ** 2
    return 2.6 * sin(half) * lost if half <= radians(22.5) else lost


def pitches(engine: Engine) -> list[float]:
    """Frequencies, Hz, at which the columns of the inlet swing on the volumes behind them, rising:
    rigid columns of inertance I = int dx/A between volumes V of one pressure each,

        V_i p_i'' = a^2 (sum of (p_j - p_i) / I_ij over the columns that end in it)

    (Kinsler & Frey, Fundamentals of Acoustics). Throats without a column between them and the next
    volume pass what they pass at rest, and tie nothing; runners and cylinders are left out."""
    plenum = engine.intake.plenum
    if plenum is None:
        return []
    columns = inlet_runs(engine, 1.0)
    last = plenum.volume if plenum.log is None else pipe_shape(plenum.log).volume()
    volumes = np.array([s.beyond or last for s in columns])
    stiff = np.zeros((len(columns), len(columns)))
    for k, s in enumerate(columns):
        if s.piping is not None:
            ends = np.zeros(len(columns))
            ends[k] = 1.0
            if k > 0:
                ends[k - 1] = -1.0
            stiff += np.outer(ends, ends) / s.piping.shape.inertance()
    root = volumes**-0.5
    squares = np.linalg.eigvalsh(root[:, None] * stiff * root)
    sound = (AIR_GAMMA * AIR_GAS_CONSTANT * engine.intake.source.temperature) ** 0.5
    return [float(sound * q**0.5 / (2.0 * pi)) for q in squares if q > 1e-9 * squares[-1]]


def _add(piping: Piping, element: InletElement) -> None:
    """Append a pipe or restrictor."""
    if element.restrictor is None:
        piping.add(element.pipe)
    else:
        piping.segments += _segments(element.restrictor)


def restrictor_piping(restrictor: Any) -> Piping:
    """A restrictor alone."""
    piping = Piping()
    piping.segments += _segments(restrictor)
    return piping


def _segments(r: Restrictor) -> list[Segment]:
    """Nozzle, throat and diffuser of a restrictor."""
    # int (A_t / A)^2 dx over the length of a cone
    spread = (1.0 - (r.throat / r.bore) ** 3) / (3.0 * (r.bore / r.throat - 1.0))
    losses = r.nozzle_loss, 0.0, loss_behind(r)
    return [
        Segment(length, start, end, Wall(bend=loss / (spread * length)))
        for (length, start, end), loss in zip(r.sections, losses, strict=True)
        if length > 0.0
    ]


def add_inlet(net: EngineNetwork, engine: Engine, air: Any, throttle: float, add_duct: Callable) -> None:
    """Airboxes and ducts from AIR to PLENUM or the log. add_duct(name, piping, state): declares a
    duct."""
    upstream = net.AIR
    for number, s in enumerate(inlet_runs(engine, throttle), 1):
        downstream = net.PLENUM
        log = net.logs[0] if s.beyond is None and net.logs else None
        if s.beyond is not None:
            downstream = net.airbox(number)
            net.vessel(downstream, s.beyond, air.pressure, air.temperature, fuel=air.fuel)
        if s.piping is not None:
            name = net.inlet(number)
            add_duct(name, s.piping, air)
            _end(net, name, "left", upstream, s.first, s.mouth)
            if log is None:
                _end(net, name, "right", downstream, s.last, 0.0)
            else:  # an effective area holds the loss of narrowing
                net.step((name, "right"), (log, "left"), s.last, (0.0, 0.0))
        elif log is None:
            net.orifice(upstream, downstream, in_series(s.first, s.last))
        else:
            _narrowed(net, log, "left", upstream, in_series(s.first, s.last))
        upstream = downstream


def _narrowed(net: EngineNetwork, duct: str, side: str, volume: Any, area: float) -> None:
    """What is wider than the duct does not narrow it."""
    net.restriction(duct, side, volume, min(area, net.end_area(duct, side)))


def _end(net: EngineNetwork, duct: str, side: str, volume: Any, area: Any, loss: Any) -> None:
    if area < inf:
        _narrowed(net, duct, side, volume, area)
    else:
        net.opening(duct, side, volume, loss=loss)
