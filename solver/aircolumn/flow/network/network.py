"""Ducts, ends and volumes put together, and marched: the public way to compute pipe flow.

A pipe with 10 % too much pressure in it, shut at its right end:

>>> from aircolumn import GasState, Network, perfect_gas, straight
>>> net = Network(perfect_gas())
>>> net.duct("pipe", straight(1.0, 0.04), 100, GasState(pressure=1.1e5, temperature=300.0))
>>> net.reservoir("air", pressure=1e5, temperature=300.0)
>>> net.opening("pipe", "left", "air")
>>> net.closed("pipe", "right")
>>> record = net.ready().march(0.01, probes={"wall": ("pipe", 1.0)})
>>> float(record.probes["wall"].p[0])
110000.0

The engine model (engine/model/assembly.py) builds its network with the same calls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf, radians
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.flow.arrays import ends as ea
from aircolumn.flow.compiled.lookup import TABLE_STEPS
from aircolumn.flow.duct.division import STEEPEST, divide, narrowing_loss
from aircolumn.flow.ends.junction import NO_DIRECTION
from aircolumn.flow.ends.legs import PIPE
from aircolumn.flow.gas.mixture import Gas
from aircolumn.flow.gas.products import NOTHING
from aircolumn.flow.network.items import (
    COLDEST,
    HOTTEST,
    NO_WALL,
    Cylinder,
    Duct,
    DuctLayout,
    Echo,
    End,
    GasState,
    Volume,
    Wall,
)
from aircolumn.flow.network.run import Run

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from aircolumn.flow.duct.geometry import Shape


ROUNDING = 1e-9  # by which an area may seem larger than that of its bore


def _check(what: str, least: float = -inf, **numbers: float) -> None:
    """Raise ValueError for numbers that are not finite, or less than ``least``."""
    for name, value in numbers.items():
        if not (np.isfinite(value) and value >= least):
            allowed = "a finite number" if least == -inf else f"a finite number of {least:g} or more"
            raise ValueError(f"{what}: {name} {value}: {allowed} is expected")


def _check_state(what: str, pressure: float, temperature: float) -> None:
    """Raise ValueError for a pressure (Pa) or temperature (K) that gas cannot have."""
    if not 0.0 < pressure < inf:
        raise ValueError(f"{what}: pressure {pressure} Pa: a finite number above 0 is expected")
    if not COLDEST <= temperature <= HOTTEST:
        raise ValueError(
            f"{what}: temperature {temperature} K: from {COLDEST:g} to {HOTTEST:g} K is expected (not degC)"
        )


def signal_of(what: str, time: ArrayLike, values: ArrayLike, period: float) -> tuple:
    """(instants, values, period) of a course over time; one that repeats ends where it begins again."""
    t, y = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    if t.ndim != 1 or t.shape != y.shape or t.size < 2:
        raise ValueError(f"{what}: two or more instants are expected, and a value for each")
    if not (np.isfinite(t).all() and np.isfinite(y).all() and (np.diff(t) > 0.0).all()):
        raise ValueError(f"{what}: finite numbers are expected, at instants that rise")
    span = float(t[-1] - t[0])
    if period == 0.0 or np.isclose(period, span, rtol=1e-9):
        return t, y, float(period)
    if not span < period < inf:
        raise ValueError(
            f"{what}: period {period} s: {span:g} s or more is expected, which the instants span"
        )
    return np.append(t, t[0] + period), np.append(y, y[0]), float(period)


def laid_out(shape: Shape, cells: int, wall: Wall, steepest: float) -> DuctLayout:
    """A duct of about ``cells`` cells (see Network.duct)."""
    reaches, changes = divide(shape, shape.length / cells, steepest)
    return DuctLayout(shape, tuple(reaches), tuple(changes), wall)


@dataclass
class Network:
    """Collects ducts, ends, volumes and orifices; ``ready()`` turns them into a :class:`Run`.

    Throughout: duct and side ("left" or "right") name an end, volumes are named; Pa, K, m, m2, m3, kg, s;
    mass fractions of fuel vapour and burned gas. Each end is declared once. ValueError is raised for what
    cannot be, and nothing of it stays.

    gas: perfect_gas() or working_gas(...).gas. conservative: the default member of the duct
    family; False selects the classical mesh method (first order, does not conserve). products:
    equilibrium of burned gas in cylinders (gas/products.py); by default it stays frozen.
    """

    gas: Gas
    conservative: bool = True
    products: np.ndarray = field(default_factory=NOTHING.copy)
    ducts: dict[str, Duct] = field(default_factory=dict)
    ends: dict[tuple[str, str], End] = field(default_factory=dict)
    volumes: dict[str, Volume] = field(default_factory=dict)
    orifices: list[tuple[str, str, float]] = field(default_factory=list)
    echoes: Echo | None = None
    valves: list[tuple] = field(default_factory=list)
    signals: list[tuple[np.ndarray, np.ndarray, float]] = field(default_factory=list)
    cylinders: list[Cylinder] = field(default_factory=list)

    def duct(
        self,
        name: str,
        shape: Shape,
        cells: int,
        state: GasState,
        wall: Wall = NO_WALL,
        *,
        steepest: Any = STEEPEST,
    ) -> None:
        """Add a duct of about ``cells`` cells; nodes stand where the shape asks for them, and
        sudden changes of bore become steps with their loss (duct/division.py; steepest: there)."""
        if cells < 2:
            raise ValueError(f"duct {name!r} needs at least 2 cells, not {cells}")
        if not isinstance(state, GasState):
            raise ValueError(f"duct {name!r}: a GasState is expected, not {state!r}")
        self.laid_duct(name, laid_out(shape, cells, wall, steepest), state)

    def laid_duct(self, name: str, layout: DuctLayout, state: GasState) -> None:
        """Add a duct that is laid out already (laid_out)."""
        if name in self.ducts:
            raise ValueError(f"there is a duct {name!r} already")
        self.ducts[name] = Duct(layout, state)

    def _end(self, duct: str, side: str, end: End) -> None:
        self._check_side(duct, side)
        if (duct, side) in self.ends:
            raise ValueError(f"the {side} end of duct {duct!r} is taken")
        self.ends[duct, side] = end

    def _check_side(self, duct: str, side: str) -> None:
        if duct not in self.ducts or side not in ("left", "right"):
            raise ValueError(f"no end {side!r} of duct {duct!r}")

    def closed(self, duct: str, side: str) -> None:
        """Rigid wall."""
        self._end(duct, side, End(ea.CLOSED))

    def piston(self, duct: str, side: str, speed: float, frequency: float) -> None:
        """Wall oscillating with velocity speed * sin(2 pi frequency t), m/s in +x; the wall's
        displacement is neglected (small against the wavelength)."""
        _check(f"the piston at {duct!r}", speed=speed, frequency=frequency)
        self._end(duct, side, End(ea.PISTON, speed=speed, frequency=frequency))

    def calm(self, duct: str, side: str, pressure: float, temperature: float) -> None:
        """Waves leave without reflection; beyond lies air at rest, Pa and K."""
        _check_state(f"the calm end of {duct!r}", pressure, temperature)
        self._end(duct, side, End(ea.CALM, p=pressure, rho=pressure / (self.gas.Ra * temperature)))

    def pressure_over_time(
        self,
        duct: str,
        side: str,
        time: ArrayLike,
        pressure: ArrayLike,
        temperature: float,
        burned: float = 0.0,
        *,
        period: float = 0.0,
    ) -> None:
        """Static pressure, Pa, that is known over time, s, such as one that was measured at this place
        (ends/over_time.py).

        time, pressure: one entry an instant of the march, rising; straight lines between, before and after
        them as at their ends; period: seconds after which they repeat, 0 if they do not. temperature: of gas
        that comes in, K, when it has the mean of the pressures; burned: its share of burned gas. Raises
        ValueError for what cannot be a course over time.
        """
        self._check_side(duct, side)
        what = f"the pressure at the {side} end of duct {duct!r}"
        signal = signal_of(what, time, pressure, period)
        if not np.all(signal[1] > 0.0):
            raise ValueError(f"{what}: {signal[1].min():g} Pa: numbers above 0 are expected")
        mean = float(np.trapezoid(signal[1], signal[0]) / (signal[0][-1] - signal[0][0]))
        _check_state(what, mean, temperature)
        if not 0.0 <= burned <= 1.0:
            raise ValueError(f"{what}: burned {burned}: from 0 to 1 is expected")
        rho = mean / ((self.gas.Ra + burned * (self.gas.Rb - self.gas.Ra)) * temperature)
        row = len(self.signals)
        self._end(duct, side, End(ea.PRESSURE, signal=row, p=mean, rho=rho, burned=burned))
        self.signals.append(signal)

    def velocity_over_time(
        self, duct: str, side: str, time: ArrayLike, velocity: ArrayLike, *, period: float = 0.0
    ) -> None:
        """Wall whose velocity, m/s in +x, is known over time, s; its displacement is neglected, as that of a
        piston. Arguments and errors as for pressure_over_time."""
        self._check_side(duct, side)
        signal = signal_of(f"the velocity at the {side} end of duct {duct!r}", time, velocity, period)
        self._end(duct, side, End(ea.VELOCITY, signal=len(self.signals)))
        self.signals.append(signal)

    def opening(self, duct: str, side: str, volume: str, loss: float = 0.0) -> None:
        """Full bore into ``volume``; ``loss``: entry-loss coefficient on the dynamic head."""
        _check(f"the opening of {duct!r}", least=0.0, loss=loss)
        self._end(duct, side, End(ea.OPENING, volume, loss=loss))

    def restriction(self, duct: str, side: str, volume: str, area: float) -> None:
        """Throat of effective area ``area`` (m2, from 0 to that of the bore) between the bore and ``volume``.
        Its air has no inertance: what it adds to the length of the pipe is ``end_correction`` with its
        ``open_share``."""
        self._check_side(duct, side)
        bore = self.end_area(duct, side)
        if not 0.0 <= area <= bore * (1.0 + ROUNDING):
            raise ValueError(
                f"the restriction at the {side} end of duct {duct!r}: an area of {area:g} m2; from 0 to the"
                f" {bore:.4g} m2 of the bore is expected"
            )
        self._end(duct, side, End(ea.RESTRICTION, volume, throat=area))

    def valve(
        self,
        duct: str,
        side: str,
        volume: str,
        into_cylinder: np.ndarray,
        out_of_cylinder: np.ndarray,
        offset: float = 0.0,
        injector: bool = False,
    ) -> None:
        """Throat whose effective area follows crank angle.

        into_cylinder, out_of_cylinder: effective areas, m2, at TABLE_STEPS + 1 equal steps over 720
        degrees for flow into the ``volume`` and out of it; offset: degrees by which the table is
        shifted; injector: port fuel of that cylinder is metered on what passes here.
        """
        for table in (into_cylinder, out_of_cylinder):
            if np.shape(table) != (TABLE_STEPS + 1,):
                raise ValueError(f"an area table has {TABLE_STEPS + 1} entries")
        end = End(ea.RESTRICTION, volume, valve=len(self.valves), injector=injector)
        self._end(duct, side, end)
        self.valves.append((np.asarray(into_cylinder), np.asarray(out_of_cylinder), offset))

    def join(self, one: Any, other: Any) -> None:
        """Connect two (duct, side) ends of the same bore."""
        self._end(one[0], one[1], End(ea.JOIN, partner=other))
        self._end(other[0], other[1], End(ea.JOIN, partner=one))

    def step(self, one: Any, other: Any, throat: Any = None, loss: Any = None, inertance: Any = 0.0) -> None:
        """Sudden change of bore between two (duct, side) ends, with its loss (ends/bore_change.py).

        throat: area of a narrower place between them, m2; loss: coefficients of narrowing into the
        throat from ``one`` and from ``other`` on its dynamic head (default: sharp edges);
        inertance: length over area of the throat's air, 1/m.
        """
        areas = [self.end_area(*end) for end in (one, other)]
        throat = min(*areas) if throat is None else min(throat, *areas)
        losses = loss or [narrowing_loss(throat / area, 180.0) for area in areas]
        for end, beyond, own in ((one, other, losses[0]), (other, one, losses[1])):
            step = End(ea.STEP, partner=beyond, throat=throat, loss=own, inertance=inertance)
            self._end(end[0], end[1], step)

    def end_area(self, duct: str, side: str) -> float:
        """Flow area of a duct at an end, m2."""
        reach = self.ducts[duct].reaches[0 if side == "left" else -1]
        return float(reach.shape.area(0.0 if side == "left" else reach.shape.length))

    def junction(self, *meeting: Any, angles: Any = None, mouths: Any = None) -> None:
        """Let two or more (duct, side) ends of any bores meet; what flows in mixes.

        angles: of the legs, degrees from an axis outward, 0 to 180, for the losses of turning and
        of sudden widening (ends/junction.py; default: one pressure, no losses). mouths: entry-loss
        coefficients of legs that are mouths in the wall of the others, None for other legs.
        """
        n = len(meeting)
        if n < 2 or len(set(meeting)) != n:
            raise ValueError("a junction needs two or more different (duct, side) ends")
        legs = zip(angles or [None] * n, mouths or [None] * n, strict=True)
        for k, (angle, mouth) in enumerate(legs):
            end = End(
                ea.JUNCTION,
                partner=meeting[(k + 1) % n],
                angle=NO_DIRECTION if angle is None else radians(angle),
                loss=PIPE if mouth is None else mouth,
            )
            self._end(meeting[k][0], meeting[k][1], end)

    def reservoir(
        self, name: str, pressure: float, temperature: float, fuel: float = 0.0, burned: float = 0.0
    ) -> None:
        """Space whose state never changes."""
        self._volume(name, Volume(ea.RESERVOIR, 1.0, pressure, temperature, fuel, burned))

    def vessel(
        self,
        name: str,
        volume: float,
        pressure: float,
        temperature: float,
        fuel: float = 0.0,
        burned: float = 0.0,
        *,
        conductance: Any = 0.0,
        wall: Any = 300.0,
    ) -> None:
        """Fixed volume (m3); conductance W/K to a wall at ``wall`` K."""
        _check(f"vessel {name!r}", least=0.0, conductance=conductance, wall=wall)
        vessel = Volume(ea.VESSEL, volume, pressure, temperature, fuel, burned, conductance, wall)
        self._volume(name, vessel)

    def cylinder(
        self,
        name: str,
        cylinder: Cylinder,
        pressure: float,
        temperature: float,
        fuel: float = 0.0,
        burned: float = 0.0,
    ) -> None:
        """Crank-driven volume."""
        size, number = cylinder.start_volume, len(self.cylinders)
        self.cylinders.append(cylinder)
        volume = Volume(ea.CYLINDER, size, pressure, temperature, fuel, burned, cylinder=number)
        self._volume(name, volume)

    def _volume(self, name: str, volume: Volume) -> None:
        if name in self.volumes:
            raise ValueError(f"there is a volume {name!r} already")
        if not 0.0 < volume.size < inf:
            raise ValueError(f"volume {name!r}: size {volume.size} m3: a finite number above 0 is expected")
        _check_state(f"volume {name!r}", volume.pressure, volume.temperature)
        self.volumes[name] = volume

    def orifice(self, first: str, second: str, area: float) -> None:
        """Opening of effective area ``area`` (m2) between two volumes."""
        _check(f"the orifice between {first!r} and {second!r}", least=0.0, area=area)
        self.orifices.append((first, second, area))

    def echo(self, duct: str, side: str, phases: Sequence[float]) -> None:
        """Let the volume at this end take what passes it again for other cylinders, ``phases``
        degrees after this one (see ends/echo.py); at the duct's right end stands their valve."""
        if self.echoes is not None:
            raise ValueError("only one end can be echoed")
        self.echoes = Echo((duct, side), tuple(phases))

    def ready(self, angle: float = 0.0, start: Run | None = None) -> Run:
        """Arrays for the march, starting at crank angle ``angle`` (degrees). Raises ValueError for an end
        that leads nowhere, or gas that cannot be.

        start: a run of the same network on another mesh, at the same crank angle, whose state is
        taken over instead of the initial one.
        """
        for name in self.ducts:
            for side in ("left", "right"):
                if (name, side) not in self.ends:
                    raise ValueError(f"the {side} end of duct {name!r} leads nowhere")
        return Run(self, angle, start)
