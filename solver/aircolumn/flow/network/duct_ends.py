"""The ends that ducts may have, each with what it is told."""

from __future__ import annotations

from math import inf, radians
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.flow.arrays import ends as ea
from aircolumn.flow.compiled.lookup import TABLE_STEPS
from aircolumn.flow.duct.division import narrowing_loss
from aircolumn.flow.ends.junction import NO_DIRECTION
from aircolumn.flow.ends.legs import PIPE
from aircolumn.flow.network.declared import Declared, check_numbers, check_state
from aircolumn.flow.network.items import End

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

ROUNDING = 1e-9  # by which an area may seem larger than that of its bore


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


class DuctEnds(Declared):
    """How each end of a duct is declared: once, by what it meets."""

    def closed(self, duct: str, side: str) -> None:
        """A rigid wall: u = 0.

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken.
        """
        self._end(duct, side, End(ea.CLOSED))

    def piston(self, duct: str, side: str, speed: float, frequency: float) -> None:
        """A wall that swings with the velocity speed * sin(2 pi frequency t) in +x; its displacement is
        neglected (small against the wavelength).

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        speed : float
            m/s.
        frequency : float
            Hz.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, numbers that are not finite.
        """
        check_numbers(f"the piston at {duct!r}", speed=speed, frequency=frequency)
        self._end(duct, side, End(ea.PISTON, speed=speed, frequency=frequency))

    def calm(self, duct: str, side: str, pressure: float, temperature: float) -> None:
        """An end that sends nothing back; beyond it lies air at rest.

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        pressure, temperature : float
            Of the air beyond, Pa and K.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, a state that no gas has.
        """
        check_state(f"the calm end of {duct!r}", pressure, temperature)
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
        """Static pressure that is known over time, such as one that was measured at this place
        (ends/over_time.py).

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        time : array_like, shape (n,)
            Instants of the march, s, rising; before and after them the value stays.
        pressure : array_like, shape (n,)
            Pa; straight lines between.
        temperature : float
            K, of gas that comes in, when it has the mean of the pressures.
        burned : float
            Its mass fraction of burned gas.
        period : float
            Seconds after which the course repeats, 0 if it does not.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, what cannot be a course over time.
        """
        self._check_side(duct, side)
        what = f"the pressure at the {side} end of duct {duct!r}"
        signal = signal_of(what, time, pressure, period)
        if not np.all(signal[1] > 0.0):
            raise ValueError(f"{what}: {signal[1].min():g} Pa: numbers above 0 are expected")
        mean = float(np.trapezoid(signal[1], signal[0]) / (signal[0][-1] - signal[0][0]))
        check_state(what, mean, temperature)
        if not 0.0 <= burned <= 1.0:
            raise ValueError(f"{what}: burned {burned}: from 0 to 1 is expected")
        rho = mean / ((self.gas.Ra + burned * (self.gas.Rb - self.gas.Ra)) * temperature)
        row = len(self.signals)
        self._end(duct, side, End(ea.PRESSURE, signal=row, p=mean, rho=rho, burned=burned))
        self.signals.append(signal)

    def velocity_over_time(
        self, duct: str, side: str, time: ArrayLike, velocity: ArrayLike, *, period: float = 0.0
    ) -> None:
        """A wall whose velocity is known over time; its displacement is neglected, as that of a piston.

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        time : array_like, shape (n,)
            Instants of the march, s, rising; before and after them the value stays.
        velocity : array_like, shape (n,)
            m/s in +x; straight lines between.
        period : float
            Seconds after which the course repeats, 0 if it does not.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, what cannot be a course over time.
        """
        self._check_side(duct, side)
        signal = signal_of(f"the velocity at the {side} end of duct {duct!r}", time, velocity, period)
        self._end(duct, side, End(ea.VELOCITY, signal=len(self.signals)))
        self.signals.append(signal)

    def opening(self, duct: str, side: str, volume: str, loss: float = 0.0) -> None:
        """The whole bore opens into a reservoir, vessel or cylinder (ends/mouth_and_throat.py).

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        volume : str
            Its name.
        loss : float
            Entry-loss coefficient on the dynamic head in the bore.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, a loss below 0.
        """
        check_numbers(f"the opening of {duct!r}", least=0.0, loss=loss)
        self._end(duct, side, End(ea.OPENING, volume, loss=loss))

    def restriction(self, duct: str, side: str, volume: str, area: float) -> None:
        """A throat between the bore and a volume: quasi-steady isentropic flow (ends/nozzle.py). Its air has
        no inertance: what it adds to the length of the pipe is ``end_correction`` with its ``open_share``.

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        volume : str
            Name of a reservoir, vessel or cylinder.
        area : float
            Effective area (discharge coefficient times area), m2, from 0 to that of the bore.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, an area that does not fit.
        """
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
        """A throat whose effective area follows the crank angle (``march`` with omega turns it).

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        volume : str
            Name of a cylinder, or of another volume.
        into_cylinder, out_of_cylinder : ndarray, shape (2881,)
            Effective areas, m2, every quarter of a degree from 0 to 720, for flow into the volume and out.
        offset : float
            Degrees by which the tables are shifted.
        injector : bool
            Port fuel of that cylinder is metered on what passes here.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, tables of another length.
        """
        for table in (into_cylinder, out_of_cylinder):
            if np.shape(table) != (TABLE_STEPS + 1,):
                raise ValueError(f"an area table has {TABLE_STEPS + 1} entries")
        end = End(ea.RESTRICTION, volume, valve=len(self.valves), injector=injector)
        self._end(duct, side, end)
        self.valves.append((np.asarray(into_cylinder), np.asarray(out_of_cylinder), offset))

    def join(self, one: tuple[str, str], other: tuple[str, str]) -> None:
        """Connect two ends of the same bore.

        Parameters
        ----------
        one, other : tuple of str
            (duct, side).

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken.
        """
        self._end(one[0], one[1], End(ea.JOIN, partner=other))
        self._end(other[0], other[1], End(ea.JOIN, partner=one))

    def step(
        self,
        one: tuple[str, str],
        other: tuple[str, str],
        throat: float | None = None,
        loss: Sequence[float] | None = None,
        inertance: float = 0.0,
    ) -> None:
        """A sudden change of bore between two ends, with its loss (ends/bore_change.py).

        Parameters
        ----------
        one, other : tuple of str
            (duct, side).
        throat : float, optional
            Area of a narrower place between them, m2.
        loss : pair of float, optional
            Coefficients of narrowing into the throat from ``one`` and from ``other``, on the dynamic head in
            it; left out, sharp edges: 0.5 (1 - area of the throat / area before it).
        inertance : float
            Length over area of the throat's air, 1/m.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken.
        """
        areas = [self.end_area(*end) for end in (one, other)]
        throat = min(*areas) if throat is None else min(throat, *areas)
        losses = loss or [narrowing_loss(throat / area, 180.0) for area in areas]
        for end, beyond, own in ((one, other, losses[0]), (other, one, losses[1])):
            step = End(ea.STEP, partner=beyond, throat=throat, loss=own, inertance=inertance)
            self._end(end[0], end[1], step)

    def junction(
        self,
        *meeting: tuple[str, str],
        angles: Sequence[float | None] | None = None,
        mouths: Sequence[float | None] | None = None,
    ) -> None:
        """Let two or more ends of any bores meet; what flows in mixes (ends/junction.py).

        Parameters
        ----------
        *meeting : tuple of str
            (duct, side) of each leg.
        angles : sequence of float, optional
            Of the legs, degrees from an axis outward, 0 to 180, for the losses of turning and of sudden
            widening; left out, one pressure and no losses.
        mouths : sequence, optional
            Entry-loss coefficients of legs that are mouths in the wall of the others, None for other legs.

        Raises
        ------
        ValueError
            For an end that there is not, or that is taken, fewer than two, another number of angles or
            mouths.
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
