"""Ducts, ends and volumes put together, and marched: the public way to compute pipe flow.

    net = Network(perfect_gas())
    net.duct("pipe", straight(1.0, 0.04), cells=100, pressure=1.1e5, temperature=300.0)
    net.reservoir("air", pressure=1e5, temperature=300.0)
    net.opening("pipe", "left", "air")
    net.closed("pipe", "right")
    run = net.ready()
    record = run.march(0.01, probes={"wall": ("pipe", 1.0)})

The engine model (cycle.py) builds its network with the same calls.
"""

from dataclasses import dataclass, field

import numpy as np

from aircolumn import march as mc
from aircolumn.compiled import plain
from aircolumn.cylinder.crank import Cranks
from aircolumn.duct.arrays import (
    Cells,
    Feet,
    Fluxes,
    Mesh,
    Middle,
    Nodes,
    Profile,
    block,
    rows,
)
from aircolumn.duct.division import STEEPEST, divide, narrowing_loss
from aircolumn.duct.geometry import Shape
from aircolumn.duct.walls import rough_term
from aircolumn.ends import arrays as ea
from aircolumn.ends.arrays import Box, EndLinks, EndValues, VolumeLinks, VolumeValues
from aircolumn.ends.echo import BINS, WAVES
from aircolumn.ends.solve import TABLE_STEPS, Arrivals
from aircolumn.gas import kernels
from aircolumn.gas.mixture import Gas

# On numbers and arrays, without compiling.
energy, gamma, gas_constant = (
    plain(f) for f in (kernels.energy, kernels.gamma, kernels.gas_constant)
)

COURANT = 0.9
UNDISTURBED = 101325.0
VECTOR = 8  # numbers a processor works on at once, or a multiple
# Cells over which the area changes by more than this (logarithm) are too coarse for a parabola.
COARSE_FROM, COARSE_WIDTH = 0.4, 0.4


class MarchError(RuntimeError):
    """The march met a state that is not finite."""


@dataclass
class Duct:
    """A duct as declared, how it is divided, and where its reaches lie in the network's arrays.

    reaches, changes: see duct/division.py; firsts: place of each reach's first node.
    """

    shape: Shape
    reaches: list
    changes: list
    state: dict
    friction: object
    heat: object
    roughness: object
    wall: object
    bend: object
    outside: object = 300.0
    coefficient: object = 0.0
    firsts: list = field(default_factory=list)

    def at(self, field: str, x):
        """``field`` at the distances ``x`` (m)."""
        return _at(getattr(self, field), x)

    @property
    def cells(self) -> int:
        """Number of cells."""
        return sum(r.cells for r in self.reaches)

    @property
    def nodes(self) -> np.ndarray:
        """Places of the duct's nodes; a sudden change has two."""
        return np.concatenate(
            [f + np.arange(r.cells + 1) for f, r in zip(self.firsts, self.reaches, strict=True)]
        )

    @property
    def inside(self) -> np.ndarray:
        """Places of the duct's cells."""
        return np.concatenate(
            [f + np.arange(r.cells) for f, r in zip(self.firsts, self.reaches, strict=True)]
        )

    @property
    def node_positions(self) -> np.ndarray:
        """Distances of the nodes from the left end, m."""
        return np.concatenate([r.start + r.edges for r in self.reaches])

    @property
    def middles(self) -> np.ndarray:
        """Distances of the cells' middles from the left end, m."""
        return np.concatenate([r.start + 0.5 * (r.edges[1:] + r.edges[:-1]) for r in self.reaches])

    @property
    def node_areas(self) -> np.ndarray:
        """Flow areas at the nodes, m2."""
        return np.concatenate([r.shape.area(r.edges) for r in self.reaches])


@dataclass
class Network:
    """Collects ducts, ends, volumes and orifices; ``ready()`` turns them into a :class:`Run`.

    gas: constants from aircolumn.gas.mixture. conservative: the default member of the duct
    family; False selects the classical mesh method (first order, does not conserve).
    """

    gas: Gas
    conservative: bool = True
    ducts: dict = field(default_factory=dict)
    ends: dict = field(default_factory=dict)
    volumes: dict = field(default_factory=dict)
    orifices: list = field(default_factory=list)
    echoes: dict = field(default_factory=dict)
    valves: list = field(default_factory=list)
    cylinders: list = field(default_factory=list)

    def duct(
        self,
        name,
        shape,
        cells,
        *,
        pressure,
        temperature,
        velocity=0.0,
        fuel=0.0,
        burned=0.0,
        friction=0.0,
        heat=0.0,
        roughness=0.0,
        wall=300.0,
        bend=0.0,
        outside=300.0,
        coefficient=0.0,
        steepest=STEEPEST,
    ):
        """Add a duct of about ``cells`` cells; nodes stand where the shape asks for them, and
        sudden changes of bore become steps with their loss (duct/division.py; steepest: there).

        pressure Pa, temperature K, velocity m/s, mass fractions fuel, burned: numbers or
        functions of distance (m). So are friction and heat: multipliers of wall friction and
        wall heat transfer, 0 for none; roughness m; wall temperature K; bend loss coefficient per
        metre; outside K and coefficient W/(m2 K): see wall_balance.py, 0 for a wall that stays.
        """
        if cells < 2:
            raise ValueError(f"duct {name!r} needs at least 2 cells, not {cells}")
        if name in self.ducts:
            raise ValueError(f"there is a duct {name!r} already")
        state = {
            "pressure": pressure,
            "temperature": temperature,
            "velocity": velocity,
            "fuel": fuel,
            "burned": burned,
        }
        reaches, changes = divide(shape, shape.length / cells, steepest)
        self.ducts[name] = Duct(shape, reaches, changes, state, friction, heat, roughness, wall,
                                bend, outside, coefficient)  # fmt: skip

    def _end(self, duct, side, kind, **values):
        if duct not in self.ducts or side not in ("left", "right"):
            raise ValueError(f"no end {side!r} of duct {duct!r}")
        if (duct, side) in self.ends:
            raise ValueError(f"the {side} end of duct {duct!r} is taken")
        self.ends[duct, side] = {"kind": kind, **values}

    def closed(self, duct, side):
        """Rigid wall."""
        self._end(duct, side, ea.CLOSED)

    def piston(self, duct, side, speed, frequency):
        """Wall oscillating with velocity speed * sin(2 pi frequency t), m/s in +x; the wall's
        displacement is neglected (small against the wavelength)."""
        self._end(duct, side, ea.PISTON, speed=speed, frequency=frequency)

    def calm(self, duct, side, pressure, density):
        """Waves leave without reflection; beyond lies gas at rest at the given state."""
        self._end(duct, side, ea.CALM, p=pressure, rho=density)

    def opening(self, duct, side, volume, loss=0.0):
        """Full bore into ``volume``; ``loss``: entry-loss coefficient on the dynamic head."""
        self._end(duct, side, ea.OPENING, volume=volume, loss=loss)

    def restriction(self, duct, side, volume, area):
        """Throat of effective area ``area`` (m2) between the bore and ``volume``."""
        self._end(duct, side, ea.RESTRICTION, volume=volume, throat=area)

    def valve(self, duct, side, volume, outward, inward, offset=0.0, injector=False):
        """Throat whose effective area follows crank angle.

        outward, inward: effective areas, m2, at TABLE_STEPS + 1 equal steps over 720 degrees for
        flow out of the duct and into it; offset: degrees by which the table is shifted;
        injector: port fuel of the cylinder ``volume`` is metered on what passes here.
        """
        for table in (outward, inward):
            if np.shape(table) != (TABLE_STEPS + 1,):
                raise ValueError(f"an area table has {TABLE_STEPS + 1} entries")
        if injector:
            self.cylinders[self.volumes[volume]["cylinder"]]["injector_end"] = len(self.ends)
        self._end(duct, side, ea.RESTRICTION, volume=volume, valve=len(self.valves))
        self.valves.append((np.asarray(outward), np.asarray(inward), offset))

    def join(self, one, other):
        """Connect two (duct, side) ends of the same bore."""
        self._end(*one, ea.JOIN, partner=other)
        self._end(*other, ea.JOIN, partner=one)

    def step(self, one, other, throat=None, loss=None, inertance=0.0):
        """Sudden change of bore between two (duct, side) ends, with its loss (ends/step.py).

        throat: area of a narrower place between them, m2; loss: coefficients of narrowing into the
        throat from ``one`` and from ``other`` on its dynamic head (default: sharp edges);
        inertance: length over area of the throat's air, 1/m.
        """
        areas = [self._end_area(*end) for end in (one, other)]
        throat = min(*areas) if throat is None else min(throat, *areas)
        losses = loss or [narrowing_loss(throat / area, 180.0) for area in areas]
        for end, beyond, own in ((one, other, losses[0]), (other, one, losses[1])):
            self._end(*end, ea.STEP, partner=beyond, throat=throat, loss=own, inertance=inertance)

    def _end_area(self, duct, side) -> float:
        reach = self.ducts[duct].reaches[0 if side == "left" else -1]
        return float(reach.shape.area(0.0 if side == "left" else reach.shape.length))

    def junction(self, *meeting):
        """Let two or more (duct, side) ends of any bores meet: one pressure, inflow mixes."""
        if len(meeting) < 2 or len(set(meeting)) != len(meeting):
            raise ValueError("a junction needs two or more different (duct, side) ends")
        for one, following in zip(meeting, meeting[1:] + meeting[:1], strict=True):
            self._end(*one, ea.JUNCTION, partner=following)

    def reservoir(self, name, pressure, temperature, fuel=0.0, burned=0.0):
        """Space whose state never changes."""
        self._volume(name, ea.RESERVOIR, 1.0, pressure, temperature, fuel, burned)

    def vessel(
        self,
        name,
        volume,
        pressure,
        temperature,
        fuel=0.0,
        burned=0.0,
        conductance=0.0,
        wall=300.0,
    ):
        """Fixed volume (m3); conductance W/K to a wall at ``wall`` K."""
        extra = {"conductance": conductance, "wall": wall}
        self._volume(name, ea.VESSEL, volume, pressure, temperature, fuel, burned, **extra)

    def cylinder(self, name, cylinder: dict, pressure, temperature, fuel=0.0, burned=0.0):
        """Crank-driven volume; ``cylinder`` holds the fields of Cranks and march.Engine."""
        index = len(self.cylinders)
        self.cylinders.append(cylinder)
        self._volume(name, ea.CYLINDER, 1.0, pressure, temperature, fuel, burned, cylinder=index)

    def _volume(self, name, kind, volume, pressure, temperature, fuel, burned, **extra):
        if name in self.volumes:
            raise ValueError(f"there is a volume {name!r} already")
        self.volumes[name] = {
            "kind": kind,
            "volume": volume,
            "p": pressure,
            "temperature": temperature,
            "yf": fuel,
            "yb": burned,
            "conductance": 0.0,
            "wall": 300.0,
            "cylinder": -1,
            **extra,
        }

    def orifice(self, first, second, area):
        """Opening of effective area ``area`` (m2) between two volumes."""
        self.orifices.append((first, second, area))

    def echo(self, duct, side, phases):
        """Let the volume at this end take what passes it again for other cylinders, ``phases``
        degrees after this one (see ends/echo.py); at the duct's right end stands their valve."""
        if self.echoes:
            raise ValueError("only one end can be echoed")
        self.echoes = {"end": (duct, side), "phases": phases}

    def ready(self, angle: float = 0.0, start: "Run | None" = None) -> "Run":
        """Arrays for the march, starting at crank angle ``angle`` (degrees).

        start: a run of the same network on another mesh, at the same crank angle, whose state is
        taken over instead of the initial one.
        """
        if start is not None:
            for name, duct in self.ducts.items():
                duct.state = _state_along(start.profile(name))
        for name in self.ducts:
            for side in ("left", "right"):
                if (name, side) not in self.ends:
                    raise ValueError(f"the {side} end of duct {name!r} leads nowhere")
        run = Run(self, angle)
        if start is not None:
            run.take_over(start)
        return run


class Run:
    """A network being marched; holds the compiled march's arrays (``plant``, ``state``)."""

    def __init__(self, network: Network, angle: float):
        self.network = network
        places = self._place_ducts()
        volumes = len(network.volumes)
        mesh = self._mesh(places)
        nodes, cells = self._initial_state(mesh, places)
        box, contents = self._volumes()
        links, values = self._ends()
        volume_links, volume_values = self._volume_table()
        engine, burn_table = self._engine()
        self.blocks = mc.Blocks(
            mesh=np.array(mesh),
            ducts=self._reach_table(),
            end_links=links,
            end_values=values,
            **self._valves(),
            volume_links=volume_links,
            volume_values=volume_values,
            cranks=self._cranks(),
            **self._orifices(),
            nodes=np.array([nodes, nodes, nodes]),
            cells=np.array(cells),
            mid=self._middles(nodes, places),
            prof=block(Profile, places),
            flux=block(Fluxes, places),
            feet=block(Feet, places),
            arrivals=block(Arrivals, links.shape[1]),
            volumes=contents,
            box=np.array(box),
            engine=engine,
            burn_table=burn_table,
            **self._echoes(),
            tally_ends=np.zeros((links.shape[1], 4)),
            vessel_heat=np.zeros(volumes),
            duct_heat=np.zeros(places),
            clock=np.zeros(9),
        )  # fmt: skip
        self.blocks.clock[mc.ANGLE] = angle
        self.mesh = rows(Mesh, self.blocks.mesh)
        self.cells = rows(Cells, self.blocks.cells)
        self.box = rows(Box, self.blocks.box)
        self.engine = rows(mc.Engine, self.blocks.engine)
        meeting = bool(np.any(links[EndLinks._fields.index("kind")] >= ea.JUNCTION))
        self.rings = 1 if meeting else None
        self.walls = bool(np.any(mesh.friction) or np.any(mesh.heat) or np.any(mesh.bend))

    def take_over(self, other: "Run"):
        """Volumes, charges and remembered flow of a run of the same network on another mesh."""
        mine, theirs = self.blocks, other.blocks
        kinds = np.array([v["kind"] for v in self.network.volumes.values()])
        held = kinds != ea.RESERVOIR
        mine.volumes[0, held, :4] = theirs.volumes[0, held, :4]
        mine.box[:] = theirs.box
        mine.echo_flow[:] = theirs.echo_flow
        for name in mc.CHARGE:
            getattr(self.engine, name)[:] = getattr(other.engine, name)
        mine.clock[mc.KEPT], mine.clock[mc.LAG] = theirs.clock[mc.KEPT], theirs.clock[mc.LAG]
        mine.clock[mc.STARTED] = mc.TAKEN_OVER

    # -- building ---------------------------------------------------------------------------

    def _place_ducts(self) -> int:
        first = 1
        for duct in self.network.ducts.values():
            duct.firsts = []
            for reach in duct.reaches:
                duct.firsts.append(first)
                first += reach.cells + 2
        # Loops run from 1 to places - 2: padded so that no odd places are left over for the slow
        # scalar end of a vector loop.
        return -(-(first - 1) // VECTOR) * VECTOR + 2

    def _reach_table(self) -> np.ndarray:
        """First place and number of cells of every reach."""
        reaches = [(f, r.cells) for d in self.network.ducts.values()
                   for f, r in zip(d.firsts, d.reaches, strict=True)]  # fmt: skip
        return np.array(reaches, dtype=np.int64).T.copy()

    def _mesh(self, places) -> Mesh:
        mesh = rows(Mesh, block(Mesh, places, 1.0))
        mesh.inside[:] = 0.0
        for name in (
            "slope_l",
            "slope_m",
            "slope_r",
            "taper_l",
            "taper_r",
            "bend",
            "coarse",
            "per_reach",
        ):
            getattr(mesh, name)[:] = 0.0
        mesh.friction[:] = mesh.heat[:] = 0.0
        mesh.even_l[:] = mesh.even_r[:] = 1.0
        for duct in self.network.ducts.values():
            for first, reach in zip(duct.firsts, duct.reaches, strict=True):
                self._mesh_reach(mesh, duct, first, reach)
        mesh.per_dx[:] = 1.0 / mesh.dx
        mesh.per_volume[:] = 1.0 / mesh.volume
        mesh.per_mid[:] = 0.25 / mesh.area_mid
        mesh.per_diameter[:] = 1.0 / mesh.diameter
        return mesh

    @staticmethod
    def _mesh_reach(mesh, duct, first, reach):
        shape, edges = reach.shape, reach.edges
        n = reach.cells
        c, nodes = slice(first, first + n), slice(first, first + n + 1)
        dx = np.diff(edges)
        middle = 0.5 * (edges[:-1] + edges[1:])
        along = reach.start + middle
        areas = shape.area(edges)
        l, r = areas[:-1], areas[1:]
        # The mean area is the exact integral; the middle area is the one that gives it back by
        # Simpson's rule, so that the parabola through all three holds the cell's true volume.
        mean = reach.volumes() / dx
        m = np.maximum(1.5 * mean - 0.25 * (l + r), 0.25 * np.minimum(l, r))
        mesh.dx[c], mesh.dx[first - 1], mesh.dx[first + n] = dx, dx[0], dx[-1]
        mesh.inside[c] = 1.0
        mesh.area[nodes] = areas
        mesh.area[first - 1] = areas[0]
        mesh.area_mid[c], mesh.area_mid[first - 1], mesh.area_mid[first + n] = m, m[0], m[-1]
        mesh.volume[c] = (l + 4.0 * m + r) / 6.0
        # Weights of a cell's neighbours in second differences, so that a straight line has none.
        # (First and last cell see ghosts as far off as their neighbours.)
        if n > 2:
            mesh.even_l[first + 1 : first + n - 1] = 2.0 * dx[1:-1] / (dx[1:-1] + dx[:-2])
            mesh.even_r[first + 1 : first + n - 1] = 2.0 * dx[1:-1] / (dx[1:-1] + dx[2:])
        # The parabola through left, middle and right area: exact for a cone, and its slopes add
        # up to the change of area by Simpson's rule, which keeps gas at rest at rest.
        growth = np.max(np.abs(np.log([m / l, r / m, r / l])), axis=0)
        coarse = np.clip((growth - COARSE_FROM) / COARSE_WIDTH, 0.0, 1.0)
        mean_slope, mean_taper = (r - l) / dx, np.log(r / l) / dx
        slope_l, slope_r = (4.0 * m - 3.0 * l - r) / dx, (l - 4.0 * m + 3.0 * r) / dx
        mesh.coarse[c] = coarse
        room = np.minimum(mesh.volume[c] / np.maximum(l, r), 1.0)
        mesh.per_reach[c] = 1.0 / (dx * (1.0 + coarse * (room - 1.0)))
        mesh.slope_l[c] = slope_l + coarse * (mean_slope - slope_l)
        mesh.slope_m[c] = mean_slope
        mesh.slope_r[c] = slope_r + coarse * (mean_slope - slope_r)
        mesh.taper_l[c] = slope_l / l + coarse * (mean_taper - slope_l / l)
        mesh.taper_r[c] = slope_r / r + coarse * (mean_taper - slope_r / r)
        # Half the growth of area along a wave path must stay below 1 (characteristics.py), also on
        # meshes that do not resolve the taper.
        for taper in (mesh.taper_l, mesh.taper_r):
            taper[c] = np.clip(taper[c], -1.0 / dx, 1.0 / dx)
        around = slice(first - 1, first + n + 1)  # with ghosts
        mesh.diameter[around] = shape.bore(0.0)
        mesh.diameter[c] = shape.bore(middle)
        relative = _at(duct.roughness, along) / shape.bore(middle)
        mesh.rough[around] = rough_term(relative[0])
        mesh.rough[c] = rough_term(relative)
        for name in ("wall", "bend", "friction", "heat"):
            getattr(mesh, name)[c] = duct.at(name, along)

    def _initial_state(self, mesh, places):
        nodes = rows(Nodes, block(Nodes, places, 1.0))
        cells = rows(Cells, block(Cells, places, 1.0))
        gas = self.network.gas
        nodes.p[:] = UNDISTURBED
        nodes.rho[:] = UNDISTURBED / (gas.Ra * 300.0)
        for a in (nodes.u, nodes.yf, nodes.yb, cells.momentum, cells.fuel, cells.burned):
            a[:] = 0.0
        cells.mass[:] = mesh.volume
        cells.energy[:] = mesh.volume * 2e5
        for duct in self.network.ducts.values():
            for first, reach in zip(duct.firsts, duct.reaches, strict=True):
                self._fill_reach(mesh, duct, first, reach, nodes, cells)
        return nodes, cells

    def _fill_reach(self, mesh, duct, first, reach, nodes, cells):
        x = reach.start + reach.edges
        places = slice(first, first + reach.cells + 1)
        tiny = 1e-9 * (x[1] - x[0])
        left = self._primitive(duct, x[:-1] + tiny)
        right = self._primitive(duct, x[1:] - tiny)
        middle = self._primitive(duct, 0.5 * (x[:-1] + x[1:]))
        for k, name in enumerate(("rho", "u", "p", "yf", "yb")):
            values = np.empty(x.size)
            values[0], values[-1] = left[k][0], right[k][-1]
            values[1:-1] = 0.5 * (right[k][:-1] + left[k][1:])
            getattr(nodes, name)[places] = values
        c = slice(first, first + reach.cells)
        a = mesh.area[places]
        ql, qm, qr = (self._conserved(s) for s in (left, middle, right))
        for k, name in enumerate(Cells._fields):
            mean = (a[:-1] * ql[k] + 4.0 * mesh.area_mid[c] * qm[k] + a[1:] * qr[k]) / 6.0
            getattr(cells, name)[c] = mean

    def _middles(self, nodes, places):
        """Scratch of the reconstruction with a temperature for its first guess."""
        mid = block(Middle, places)
        r = gas_constant(self.network.gas, nodes.yf, nodes.yb)
        temperature = nodes.p / (nodes.rho * r)
        rows(Middle, mid).temperature[:] = temperature
        rows(Middle, mid).temperature[:-1] = 0.5 * (temperature[:-1] + temperature[1:])
        return mid

    def _primitive(self, duct, x):
        s = {name: _at(value, x) for name, value in duct.state.items()}
        r = gas_constant(self.network.gas, s["fuel"], s["burned"])
        rho = s["pressure"] / (r * s["temperature"])
        return rho, s["velocity"], s["pressure"], s["fuel"], s["burned"]

    def _conserved(self, primitive):
        rho, u, p, yf, yb = primitive
        gas = self.network.gas
        t = p / (rho * gas_constant(gas, yf, yb))
        e = energy(gas, yf, yb, t)
        return rho, rho * u, rho * (e + 0.5 * u * u), rho * yf, rho * yb

    def _ends(self):
        """Links and values of all ends: those declared, then both sides of each sudden change."""
        table = [self._declared_end(*key, end) for key, end in self.network.ends.items()]
        for duct in self.network.ducts.values():
            for k, change in enumerate(duct.changes):
                table += self._change_ends(duct, k, change, len(table))
        links = np.array([link for link, _ in table], dtype=np.int64).T.copy()
        return links, np.array([value for _, value in table]).T.copy()

    def _declared_end(self, duct_name, side, end):
        duct = self.network.ducts[duct_name]
        link = _end_link(duct, -1 if side == "right" else 0, side)._replace(
            kind=end["kind"], to_volume=int("volume" in end), valve=end.get("valve", -1)
        )
        if "volume" in end:
            link = link._replace(volume=self._volume_index(end["volume"]))
        if "partner" in end:
            link = link._replace(volume=list(self.network.ends).index(end["partner"]))
        return link, [end.get(name, 0.0) for name in EndValues._fields]

    @staticmethod
    def _change_ends(duct, k, change, count):
        """Both sides of sudden change ``k`` of a duct; ``count``: ends before them."""
        both = []
        for reach, side, loss, partner in (
            (k, "right", change.loss_forward, count + 1),
            (k + 1, "left", change.loss_back, count),
        ):
            link = _end_link(duct, reach, side)._replace(kind=ea.STEP, volume=partner)
            values = {"throat": change.throat, "loss": loss, "inertance": change.inertance}
            both.append((link, [values.get(name, 0.0) for name in EndValues._fields]))
        return both

    def _volume_index(self, name) -> int:
        if name not in self.network.volumes:
            raise ValueError(f"there is no volume {name!r}")
        return list(self.network.volumes).index(name)

    def _valves(self) -> dict:
        tables = self.network.valves or [(np.zeros(TABLE_STEPS + 1),) * 2 + (0.0,)]
        return {
            "valve_out": np.array([t[0] for t in tables]),
            "valve_in": np.array([t[1] for t in tables]),
            "valve_offset": np.array([t[2] for t in tables], dtype=float),
        }

    def _volume_table(self):
        table = self.network.volumes.values()
        return (
            np.array([[v[f] for v in table] for f in VolumeLinks._fields], dtype=np.int64),
            np.array([[v[f] for v in table] for f in VolumeValues._fields], dtype=float),
        )

    def _volumes(self):
        gas, n = self.network.gas, len(self.network.volumes)
        box = rows(Box, block(Box, n))
        for b, v in enumerate(self.network.volumes.values()):
            t, yf, yb = v["temperature"], v["yf"], v["yb"]
            r = gas_constant(gas, yf, yb)
            box.volume[b], box.p[b], box.temperature[b] = v["volume"], v["p"], t
            box.rho[b], box.yf[b], box.yb[b] = v["p"] / (r * t), yf, yb
            box.gamma[b], box.e[b] = gamma(gas, yf, yb, t), energy(gas, yf, yb, t)
            if v["kind"] == ea.CYLINDER:
                box.volume[b] = self.network.cylinders[v["cylinder"]]["start_volume"]
        kinds = np.array([v["kind"] for v in self.network.volumes.values()])
        mass = box.rho * box.volume
        contents = np.zeros((5, n, 6))
        for q, share in enumerate((np.ones(n), box.e, box.yf, box.yb)):
            contents[0, :, q] = np.where(kinds == ea.RESERVOIR, 0.0, mass * share)
        return box, contents

    def _cranks(self):
        table = self.network.cylinders
        return np.array([[c[f] for c in table] for f in Cranks._fields], dtype=float)

    def _engine(self):
        table = self.network.cylinders
        fields = mc.Engine._fields
        burn = [c["burn_table"] for c in table] or [np.zeros(TABLE_STEPS + 1)]
        return np.array(
            [[c.get(f, float(f == "burn_stretch")) for c in table] for f in fields]
        ), np.array(burn)

    def _echoes(self) -> dict:
        echo = self.network.echoes or {"phases": []}
        links, length = np.zeros(3, dtype=np.int64), np.zeros(1)
        if "end" in echo:
            length[0] = self.network.ducts[echo["end"][0]].shape.length
            k = list(self.network.ends).index(echo["end"])
            valve = self.network.ends[echo["end"][0], "right"]["valve"]
            links[:] = k, self._volume_index(self.network.ends[echo["end"]]["volume"]), valve
        return {
            "echo_links": links,
            "echo_length": length,
            "echo_phases": np.array(echo["phases"], dtype=float),
            "echo_flow": np.zeros((WAVES + len(echo["phases"]), BINS)),
            "tally_echo": np.zeros(4),
        }

    def _orifices(self) -> dict:
        table = self.network.orifices
        links = [[self._volume_index(o[i]) for o in table] for i in (0, 1)]
        return {
            "orifice_links": np.array(links, dtype=np.int64),
            "orifice_area": np.array([o[2] for o in table], dtype=float),
        }

    # -- marching ---------------------------------------------------------------------------

    def march(self, duration, *, omega=0.0, courant=COURANT, probes=None, room=0, max_steps=10**8):
        """March for ``duration`` seconds at ``omega`` rad/s.

        probes: {name: (duct, distance m)}, the nearest node is recorded at every step.
        room: recorded steps kept per call of the compiled march (grown as needed).
        Returns a dict of arrays: time s, angle deg, one dict per probe (rho, u, p, a, fuel, burned
        and the node's distance x) and one per volume (p, T, mass). Raises MarchError if the state
        stops being finite, ValueError for a probe with the name of a volume.
        """
        taken = set(probes or {}) & {"time", "angle", *self.network.volumes}
        if taken:
            raise ValueError(
                f"a probe cannot be called {min(taken)!r}: the record has that already"
            )
        places = [self.node_near(*where) for where in (probes or {}).values()]
        probe_places = np.array(places, dtype=np.int64)
        columns = 2 + 6 * len(places) + 3 * len(self.network.volumes)
        room = room or (20000 if probes is not None else 0)
        stop = self.time + duration
        parts = []
        while True:
            record = np.empty((room, columns))
            code, used = mc.march(
                self.network.gas, self.blocks, self.rings, self.network.conservative, self.walls,
                omega, stop, courant, probe_places, record, max_steps,
            )  # fmt: skip
            parts.append(record[:used])
            if code == mc.NOT_FINITE:
                raise MarchError(f"the state stopped being finite at {self.time:.6g} s")
            if code == mc.DONE or room == 0:
                break
        return self._labelled(np.concatenate(parts), dict(zip(probes or {}, places, strict=True)))

    def _labelled(self, table, probes: dict) -> dict:
        out = {"time": table[:, 0], "angle": table[:, 1]}
        n = 2
        for name in probes:
            keys = ("rho", "u", "p", "a", "fuel", "burned")
            out[name] = {key: table[:, n + i] for i, key in enumerate(keys)}
            out[name]["x"] = self._position(probes[name])
            n += 6
        for name in self.network.volumes:
            out[name] = {key: table[:, n + i] for i, key in enumerate(("p", "T", "mass"))}
            n += 3
        return out

    def node_near(self, duct, distance) -> int:
        """Place of the node nearest to ``distance`` (m) in ``duct``."""
        d = self.network.ducts[duct]
        return int(d.nodes[np.argmin(np.abs(d.node_positions - distance))])

    def _position(self, place: int) -> float:
        """Distance, m, of the node at ``place`` from the left end of its duct."""
        for d in self.network.ducts.values():
            found = np.flatnonzero(d.nodes == place)
            if found.size:
                return float(d.node_positions[found[0]])
        raise ValueError(f"no node at place {place}")

    @property
    def nodes(self) -> Nodes:
        """The node states now (views)."""
        return rows(Nodes, self.blocks.nodes[int(self.blocks.clock[mc.NOW])])

    @property
    def time(self) -> float:
        """Seconds marched so far."""
        return float(self.blocks.clock[mc.TIME])

    @property
    def steps(self) -> int:
        """Steps taken so far."""
        return int(self.blocks.clock[mc.STEPS])

    def profile(self, duct) -> dict:
        """Node states along ``duct``: x, area, rho, u, p, a, T, fuel, burned (arrays, SI)."""
        d = self.network.ducts[duct]
        old, n = self.nodes, d.nodes
        r = gas_constant(self.network.gas, old.yf[n], old.yb[n])
        return {
            "x": d.node_positions,
            "area": d.node_areas,
            "rho": old.rho[n].copy(),
            "u": old.u[n].copy(),
            "p": old.p[n].copy(),
            "a": old.a[n].copy(),
            "T": old.p[n] / (old.rho[n] * r),
            "fuel": old.yf[n].copy(),
            "burned": old.yb[n].copy(),
        }

    def held(self, duct) -> dict:
        """What ``duct`` holds: mass, momentum, energy, fuel, burned (SI, from cell means)."""
        d = self.network.ducts[duct]
        dx = self.mesh.dx[d.inside]
        return {
            name: float(np.sum(values[d.inside] * dx))
            for name, values in zip(Cells._fields, self.cells, strict=True)
        }


def _end_link(duct, reach, side) -> EndLinks:
    """Where the end of a duct's reach lies."""
    first, cells = duct.firsts[reach], duct.reaches[reach].cells
    at_right = side == "right"
    return EndLinks(*[-1] * len(EndLinks._fields))._replace(
        node=first + (cells if at_right else 0),
        cell=first + (cells - 1 if at_right else 0),
        side=1 if at_right else -1,
        to_volume=0,
    )


def _state_along(profile) -> dict:
    """A duct's initial state, as functions of distance, from Run.profile."""
    names = {"pressure": "p", "velocity": "u", "temperature": "T", "fuel": "fuel",
             "burned": "burned"}  # fmt: skip
    return {
        key: lambda x, values=profile[name], at=profile["x"]: np.interp(x, at, values)
        for key, name in names.items()
    }


def _at(value, x):
    """``value`` at the places ``x``: a number or a function of distance."""
    result = value(x) if callable(value) else value
    return np.broadcast_to(np.asarray(result, dtype=float), np.shape(x)).copy()
