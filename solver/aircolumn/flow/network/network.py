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
from math import inf

from aircolumn.flow.arrays import ends as ea
from aircolumn.flow.network.declared import check_numbers, check_state
from aircolumn.flow.network.duct_ends import DuctEnds
from aircolumn.flow.network.items import Cylinder, Echo, Volume
from aircolumn.flow.network.run import Run


class Network(DuctEnds):
    """Collects ducts, ends, volumes and orifices; ``ready()`` turns them into a :class:`Run`.

    Each end is declared once, by its duct and side ("left" or "right"); volumes are named. Units: Pa, K, m,
    m2, m3, kg, s. ValueError is raised for what cannot be, and nothing of it stays.

    Parameters
    ----------
    gas : Gas
        ``perfect_gas()`` or ``working_gas(...).gas``.
    conservative : bool
        False selects the classical mesh method (first order, does not conserve).
    products : ndarray, optional
        Equilibrium of burned gas in cylinders (gas/products.py); left out, it stays frozen.
    """

    def reservoir(
        self, name: str, pressure: float, temperature: float, fuel: float = 0.0, burned: float = 0.0
    ) -> None:
        """A space whose state never changes.

        Parameters
        ----------
        name : str
        pressure, temperature : float
            Pa and K.
        fuel, burned : float
            Mass fractions of fuel vapour and burned gas.

        Raises
        ------
        ValueError
            For a name that is taken, a size or a state that cannot be.
        """
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
        conductance: float = 0.0,
        wall: float = 300.0,
    ) -> None:
        """A fixed volume, filled and emptied through its openings.

        Parameters
        ----------
        name : str
        volume : float
            m3.
        pressure, temperature : float
            At the start, Pa and K.
        fuel, burned : float
            Mass fractions of fuel vapour and burned gas.
        conductance : float
            Heat transfer to its wall, W/K.
        wall : float
            Temperature of that wall, K.

        Raises
        ------
        ValueError
            For a name that is taken, a size or a state that cannot be.
        """
        check_numbers(f"vessel {name!r}", least=0.0, conductance=conductance, wall=wall)
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
        """A volume driven by the crank, with combustion and heat to its walls.

        Parameters
        ----------
        name : str
        cylinder : Cylinder
            What it is made of (flow/network/items.py; the engine model makes it from a file).
        pressure, temperature : float
            At the start, Pa and K.
        fuel, burned : float
            Mass fractions of fuel vapour and burned gas.

        Raises
        ------
        ValueError
            For a name that is taken, a size or a state that cannot be.
        """
        size, number = cylinder.start_volume, len(self.cylinders)
        self.cylinders.append(cylinder)
        volume = Volume(ea.CYLINDER, size, pressure, temperature, fuel, burned, cylinder=number)
        self._volume(name, volume)

    def _volume(self, name: str, volume: Volume) -> None:
        if name in self.volumes:
            raise ValueError(f"there is a volume {name!r} already")
        if not 0.0 < volume.size < inf:
            raise ValueError(f"volume {name!r}: size {volume.size} m3: a finite number above 0 is expected")
        check_state(f"volume {name!r}", volume.pressure, volume.temperature)
        self.volumes[name] = volume

    def orifice(self, first: str, second: str, area: float) -> None:
        """An opening between two volumes.

        Parameters
        ----------
        first, second : str
            Their names.
        area : float
            Effective area, m2, 0 or more.

        Raises
        ------
        ValueError
            For an area that cannot be.
        """
        check_numbers(f"the orifice between {first!r} and {second!r}", least=0.0, area=area)
        self.orifices.append((first, second, area))

    def echo(self, duct: str, side: str, phases: Sequence[float]) -> None:
        """Let the volume at this end take what passes it again, for other cylinders (ends/echo.py).

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".
        phases : sequence of float
            Degrees by which the other cylinders follow this one; at the duct's right end stands their valve.

        Raises
        ------
        ValueError
            For a second such end.
        """
        if self.echoes is not None:
            raise ValueError("only one end can be echoed")
        self.echoes = Echo((duct, side), tuple(phases))

    def ready(self, angle: float = 0.0, start: Run | None = None) -> Run:
        """The network as arrays, ready to be marched.

        Parameters
        ----------
        angle : float
            Crank angle at the start, degrees.
        start : Run, optional
            Of the same network on another mesh, at the same crank angle: its state is taken over in place of
            the initial one.

        Returns
        -------
        Run

        Raises
        ------
        ValueError
            For an end that leads nowhere, or gas that cannot be.
        """
        for name in self.ducts:
            for side in ("left", "right"):
                if (name, side) not in self.ends:
                    raise ValueError(f"the {side} end of duct {name!r} leads nowhere")
        return Run(self, angle, start)
