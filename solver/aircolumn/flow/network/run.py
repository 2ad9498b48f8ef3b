"""A network being marched: its arrays, and how to look at them."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import said_place
from aircolumn.errors import MarchError, no_such
from aircolumn.flow.arrays import blocks as mb
from aircolumn.flow.arrays import ends as ea
from aircolumn.flow.arrays.cylinders import CHARGE, Chambers
from aircolumn.flow.arrays.ducts import Cells, Feet, Fluxes, Mesh, Nodes, Profile, block, rows
from aircolumn.flow.arrays.ends import Arrivals, EndLinks, VolumeStates
from aircolumn.flow.compiled.views import table_of
from aircolumn.flow.march.advance import DONE, NOT_FINITE, advance
from aircolumn.flow.network import initial, tables
from aircolumn.flow.network.mesh import mesh_of
from aircolumn.flow.network.placement import placed, reach_table
from aircolumn.flow.network.record import DuctProfile, Record, labelled

if TYPE_CHECKING:
    from collections.abc import Mapping

    from aircolumn.flow.network.network import Network
    from aircolumn.flow.network.placement import PlacedDuct

COURANT = 0.9
MOST_STEPS = 10**8  # of one march
STILL_RELAXED = 0.5  # of the echoes' relaxation (ends/echo.py), where another march goes on near the cycle
SIDES = {"left": 0, "right": -1}  # of a duct, and the place of its node
BEYOND = 1e-9  # of a duct's length: by how much rounding may take a place beyond its ends
AT_A_TIME = 100_000  # steps between which Python can be interrupted


class Run:
    """A network being marched, made by ``Network.ready()``: ``march`` it, look at it with ``profile`` and
    ``held``, march on. Views of the march's arrays, SI: mesh, cells, states (of volumes), chambers (of
    cylinders), nodes; ducts: where each lies in them."""

    def __init__(self, network: Network, angle: float, start: Run | None = None) -> None:
        """angle: degrees; start: see Network.ready."""
        self.network: Any = network  # a Network, or what is derived from it
        self.ducts, places = placed(network.ducts)
        self.blocks = self._blocks(places, start)
        self.table = table_of(self.blocks)
        self.blocks.clock[mb.ANGLE] = angle
        self.mesh = rows(Mesh, self.blocks.mesh)
        self.cells = rows(Cells, self.blocks.cells)
        self.states = rows(VolumeStates, self.blocks.states)
        self.chambers = rows(Chambers, self.blocks.chambers)
        mesh = self.mesh
        self.walls = bool(np.any(mesh.friction) or np.any(mesh.heat) or np.any(mesh.bend))
        if start is not None:
            self._take_over(start)

    def _blocks(self, places: int, start: Run | None) -> mb.Blocks:
        network, gas = self.network, self.network.gas
        gases = {name: duct.state for name, duct in network.ducts.items()}
        if start is not None:
            gases = {name: start.profile(name).state() for name in gases}
        else:
            for name, duct in self.ducts.items():
                initial.check_gas(name, duct)
        mesh = mesh_of(self.ducts, places)
        nodes, cells = initial.ducts_filled(gas, mesh, self.ducts, gases)
        states, contents = initial.volumes_filled(gas, network.volumes)
        links, values = tables.end_tables(network, self.ducts)
        initial.stopped_at_walls(gas, nodes, rows(EndLinks, links))
        return mb.Blocks(
            gas=np.array(gas, dtype=float),
            products=network.products,
            mesh=np.array(mesh),
            ducts=reach_table(self.ducts),
            end_links=links,
            end_values=values,
            turning=tables.turning_table(links, values, mesh.area),
            **tables.area_tables(network),
            **tables.signal_tables(network),
            **tables.volume_tables(network),
            **tables.cylinder_tables(network),
            **tables.orifice_tables(network),
            nodes=np.array([nodes, nodes, nodes]),
            cells=np.array(cells),
            middles=initial.middles_guessed(gas, nodes),
            profile=block(Profile, places),
            flux=block(Fluxes, places),
            feet=block(Feet, places),
            layer=initial.layers_at_rest(nodes),
            arrivals=block(Arrivals, links.shape[1]),
            volumes=contents,
            states=np.array(states),
            **tables.echo_tables(network),
            tally_ends=np.zeros((links.shape[1], 4)),
            vessel_heat=np.zeros(len(network.volumes)),
            duct_heat=np.zeros(places),
            clock=np.zeros(10),
        )

    def _take_over(self, other: Run) -> None:
        """Volumes, charges and remembered flow of a run of the same network on another mesh."""
        mine, theirs = self.blocks, other.blocks
        held = np.array([v.kind != ea.RESERVOIR for v in self.network.volumes.values()])
        mine.volumes[0, held, :4] = theirs.volumes[0, held, :4]
        mine.states[:] = theirs.states
        self.go_on(
            theirs.echo_flow, other.charge, float(theirs.clock[mb.RELAXATION]), float(theirs.clock[mb.LAG])
        )

    @property
    def charge(self) -> np.ndarray:
        """What every cylinder remembers of its charge: CHARGE of arrays/cylinders.py, in rows."""
        return np.array([getattr(self.chambers, name) for name in CHARGE])

    def go_on(self, echo_flow: np.ndarray, charge: np.ndarray, relaxation: float, lag: float) -> None:
        """Go on from what another march near its periodic cycle remembers of other cylinders and charges."""
        self.blocks.echo_flow[:] = echo_flow
        for name, values in zip(CHARGE, charge, strict=True):
            getattr(self.chambers, name)[:] = values
        clock = self.blocks.clock
        clock[mb.LAG], clock[mb.RELAXATION] = lag, STILL_RELAXED * relaxation
        clock[mb.STARTED] = mb.TAKEN_OVER

    def march(
        self,
        duration: float,
        *,
        omega: float = 0.0,
        courant: float = COURANT,
        probes: Mapping[str, int | tuple[str, float | str]] | None = None,
        room: int = 0,
        max_steps: int = MOST_STEPS,
    ) -> Record:
        """March on, for a time or a number of steps.

        Parameters
        ----------
        duration : float
            s, 0 or more.
        omega : float
            Of the crank, rad/s.
        courant : float
            Largest share of a cell that a wave crosses in a step: above 0, at most 1.
        probes : dict, optional
            {name: (duct, distance from its left end, m)}: the nearest node is recorded at every step;
            {name: (duct, "left" or "right")}; {name: place} of a node (``ducts[name].nodes``). Left out,
            nothing is recorded.
        room : int
            Recorded steps kept per call of the compiled march (grown as needed).
        max_steps : int
            After so many the march stops in any case.

        Returns
        -------
        Record

        Raises
        ------
        ValueError
            For what cannot be marched, probes at no place.
        MarchError
            If the state stops being finite.
        """
        self._check_march(duration, omega, courant, max_steps)
        places = [self._place(name, where) for name, where in (probes or {}).items()]
        columns = 2 + 6 * len(places) + 3 * len(self.network.volumes)
        room = room or (20000 if probes is not None else 0)
        stop, first = self.time + duration, self.steps
        parts = []
        while True:
            written = np.empty((room, columns))
            code, used = advance(
                self.table,
                self.network.conservative,
                self.walls,
                omega,
                stop,
                courant,
                np.array(places, dtype=np.int64),
                written,
                min(AT_A_TIME, max_steps - self.steps + first),
            )
            parts.append(written[:used])
            if code == NOT_FINITE:
                raise MarchError(
                    f"the computation broke down after {self.time:.3g} s: a state was no longer a"
                    f" number {self._where_lost()}"
                )
            if code == DONE or self.steps - first >= max_steps:
                break
        at = {n: self._position(p) for n, p in zip(probes or {}, places, strict=True)}
        return labelled(np.concatenate(parts), at, self.network.volumes)

    def _check_march(self, duration: float, omega: float, courant: float, max_steps: int) -> None:
        """Raise ValueError for numbers that would be marched without end, or to nonsense."""
        if not (0.0 <= duration < np.inf):
            raise ValueError(f"a duration of {duration} s: a finite number from 0 on is expected")
        if not np.isfinite(omega):
            raise ValueError(f"omega is {omega} rad/s: a finite number is expected")
        if not 0.0 < courant <= 1.0:
            raise ValueError(f"a Courant number of {courant}: above 0 and at most 1 are stable")
        if max_steps == MOST_STEPS:  # none was stated: as many as sound needs through the shortest cell
            sound = np.sqrt(1.4 * self.nodes.p / self.nodes.rho)  # nodes.a is not known before the first step
            steps = duration * float(np.max(sound * self.mesh.per_reach)) / courant
            if steps > MOST_STEPS:
                raise ValueError(
                    f"{duration:g} s would take some {steps:.0e} steps; at most {MOST_STEPS:.0e} unless"
                    " max_steps says more"
                )

    def _place(self, name: str, where: Any) -> int:
        """Place of the node that a probe looks at. Raises ValueError."""
        if isinstance(where, int):
            return where
        duct, place = where
        try:
            if place in SIDES:
                return int(self._duct(duct).nodes[SIDES[place]])
            return self.node_near(duct, float(place))
        except ValueError as error:
            raise ValueError(f"probe {name!r}: {error}") from error

    def _duct(self, name: str) -> PlacedDuct:
        """Raises ValueError if there is none of this name."""
        if name not in self.ducts:
            raise ValueError(no_such("duct", name, self.ducts))
        return self.ducts[name]

    def _where_lost(self) -> str:
        """The first volume or duct whose state is not a number any more, in words."""
        states, nodes = VolumeStates(*self.blocks.states), self.nodes
        for name, p, t in zip(self.network.volumes, states.p, states.temperature, strict=True):
            if not (p > 0.0 and t > 0.0):
                return f"in volume {name!r}"
        for name, duct in self.ducts.items():
            sound = np.isfinite(nodes.p[duct.nodes]) & (nodes.a[duct.nodes] > 0.0)
            if not sound.all():
                at = duct.node_positions[np.argmin(sound)]
                return f"in duct {name!r}, {said_place(at)} from its beginning"
        return "somewhere"

    def node_near(self, duct: str, distance: float) -> int:
        """Place of the node nearest to ``distance`` (m from the left end) in ``duct``. Raises ValueError
        for a distance beyond its ends."""
        d = self._duct(duct)
        length = d.declared.shape.length
        if not -BEYOND * length <= distance <= (1.0 + BEYOND) * length:
            raise ValueError(f"{distance:g} m is not within duct {duct!r}, from 0 to {length:g} m")
        return int(d.nodes[np.argmin(np.abs(d.node_positions - distance))])

    def _position(self, place: int) -> float:
        """Distance, m, of the node at ``place`` from the left end of its duct."""
        for d in self.ducts.values():
            found = np.flatnonzero(d.nodes == place)
            if found.size:
                return float(d.node_positions[found[0]])
        raise ValueError(f"no node at place {place}")

    def volume(self, name: str) -> int:
        """Where a volume stands in ``states`` and ``blocks.volumes``."""
        return tables.volume_index(self.network, name)

    @property
    def nodes(self) -> Nodes:
        """The node states now (views)."""
        return rows(Nodes, self.blocks.nodes[int(self.blocks.clock[mb.NOW])])

    @property
    def time(self) -> float:
        """Seconds marched so far."""
        return float(self.blocks.clock[mb.TIME])

    @property
    def steps(self) -> int:
        """Steps taken so far."""
        return int(self.blocks.clock[mb.STEPS])

    def profile(self, duct: str) -> DuctProfile:
        """Node states along a duct, now.

        Parameters
        ----------
        duct : str

        Returns
        -------
        DuctProfile

        Raises
        ------
        ValueError
            If there is none of this name.
        """
        d, now = self._duct(duct), self.nodes
        n = d.nodes
        r = initial.gas_constant(self.network.gas, now.yf[n], now.yb[n])
        return DuctProfile(
            d.node_positions,
            d.node_areas,
            now.rho[n].copy(),
            now.u[n].copy(),
            now.p[n].copy(),
            now.a[n].copy(),
            now.p[n] / (now.rho[n] * r),
            now.yf[n].copy(),
            now.yb[n].copy(),
        )

    @cached_property
    def cell_places(self) -> np.ndarray:
        """Places of the cells of all ducts."""
        return np.flatnonzero(self.mesh.inside)

    @cached_property
    def node_places(self) -> np.ndarray:
        """Places of the nodes of all ducts."""
        return np.concatenate([duct.nodes for duct in self.ducts.values()])

    def held(self, duct: str) -> Cells:
        """What a duct holds, by its cell means.

        Parameters
        ----------
        duct : str

        Returns
        -------
        Cells
            Sums: mass kg, momentum kg m/s, energy J, fuel kg, burned gas kg.

        Raises
        ------
        ValueError
            If there is none of this name.
        """
        inside = self._duct(duct).inside
        dx = self.mesh.dx[inside]
        return Cells(*(float(np.sum(values[inside] * dx)) for values in self.cells))
