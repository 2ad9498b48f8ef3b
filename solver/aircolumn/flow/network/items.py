"""What a network is declared of: the state a duct starts in, its wall, ends, volumes, cylinders.

None of it changes once it is declared. Where a number may vary along a duct, a function of distance
(m, array) will do too.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from aircolumn.flow.duct.geometry import Shape
from aircolumn.flow.ends.junction import NO_DIRECTION
from aircolumn.flow.gas.volatility import GASEOUS

Along = float | Callable


COLDEST, HOTTEST = 100.0, 6000.0  # K: what gas may be declared with; 27 was meant in degC
SAMPLES = 64  # of a value along a duct, in each cell


def along(value: Along, x: Any) -> np.ndarray:
    """``value`` at the distances ``x`` (m). Raises ValueError for a function that takes no array."""
    try:
        result = value(x) if callable(value) else value
        return np.broadcast_to(np.asarray(result, dtype=float), np.shape(x)).copy()
    except (TypeError, ValueError) as error:
        raise ValueError(
            f"a function of distance gets an array of distances and returns as many values (numpy.where in"
            f" place of if): {error}"
        ) from error


def mean_along(value: Along, edges: np.ndarray) -> np.ndarray:
    """Mean of ``value`` between each two of the ``edges`` (m): a wall that changes inside a cell counts by
    its share of it, so that results do not jump as cells move over the change."""
    if not callable(value):
        return along(value, edges[1:])
    shares = (np.arange(SAMPLES) + 0.5) / SAMPLES
    x = edges[:-1, None] + np.diff(edges)[:, None] * shares
    return along(value, x.ravel()).reshape(x.shape).mean(axis=1)


@dataclass(frozen=True)
class GasState:
    """Gas along a duct. Each value is a number, or a function of the distances from the left end, m (array;
    so ``numpy.where`` in place of ``if``), which is called by ``Network.ready()``. There ValueError is raised
    for what cannot be.

    Parameters
    ----------
    pressure : float or callable
        Pa.
    temperature : float or callable
        K, 100 to 6000.
    velocity : float or callable
        m/s towards the right end.
    fuel, burned : float or callable
        Mass fractions of fuel vapour and burned gas.
    """

    pressure: Along
    temperature: Along
    velocity: Along = 0.0
    fuel: Along = 0.0
    burned: Along = 0.0


@dataclass(frozen=True)
class Wall:
    """A duct's wall. Each value is a number, or a function of distance as in GasState.

    Parameters
    ----------
    friction, heat : float or callable
        Times the steady laws (Haaland; Reynolds-Colburn: duct/walls.py): 0 for none, 1 for the law, 2 for
        heat in pulsating flow.
    roughness : float or callable
        m.
    temperature : float or callable
        K.
    bend : float or callable
        Loss coefficient of bends per metre, 1/m.
    outside, coefficient : float or callable
        K and W/(m2 K): what cools it (engine/model/wall_balance.py); 0 for a wall that keeps its temperature.
    roundness : float or callable
        Perimeter of the circle with the duct's area over its own, and so its hydraulic diameter (4 area /
        perimeter) over the diameter of that circle; 1 where it is round.

    A value that ``arrays.ducts.Mesh`` has a row for, of the same name, is there for the kernels.
    """

    friction: Along = 0.0
    heat: Along = 0.0
    roughness: Along = 0.0
    temperature: Along = 300.0
    bend: Along = 0.0
    outside: Along = 300.0
    coefficient: Along = 0.0
    roundness: Along = 1.0


NO_WALL = Wall()  # neither friction nor heat


@dataclass(frozen=True, eq=False)
class DuctLayout:
    """A duct's shape and wall, and how it is divided (reaches and sudden changes: duct/division.py).
    Two layouts are the same only if they are one object, so that what is made of it can be kept."""

    shape: Shape
    reaches: tuple
    changes: tuple
    wall: Wall

    def cell_means(self, value: Along) -> np.ndarray:
        """Mean of a value along the duct in each of its cells."""
        return np.concatenate([mean_along(value, r.start + r.edges) for r in self.reaches])


@dataclass(frozen=True)
class Duct:
    """A duct: its layout, and the gas it starts with."""

    layout: DuctLayout
    state: GasState

    @property
    def shape(self) -> Shape:
        """Bore against distance."""
        return self.layout.shape

    @property
    def reaches(self) -> tuple:
        """The parts between sudden changes of bore."""
        return self.layout.reaches

    @property
    def changes(self) -> tuple:
        """The sudden changes of bore."""
        return self.layout.changes

    @property
    def wall(self) -> Wall:
        """The wall along it."""
        return self.layout.wall


@dataclass(frozen=True)
class End:
    """An end of a duct: its kind (arrays/ends.py), the volume it opens into or the end it meets,
    the rows of its area tables and of its signal (-1: none), whether port fuel is metered there, and the
    values of arrays.ends.EndValues that its kind takes."""

    kind: int
    volume: str | None = None
    partner: tuple[str, str] | None = None
    valve: int = -1
    signal: int = -1
    injector: bool = False
    loss: float = 0.0
    throat: float = 0.0
    speed: float = 0.0
    frequency: float = 0.0
    p: float = 0.0
    rho: float = 0.0
    burned: float = 0.0
    inertance: float = 0.0
    angle: float = NO_DIRECTION


@dataclass(frozen=True)
class Volume:
    """A volume: its kind (arrays/ends.py), size m3, starting state Pa, K and mass fractions;
    conductance W/K to a wall at ``wall`` K; the number of its cylinder (-1: none)."""

    kind: int
    size: float
    pressure: float
    temperature: float
    fuel: float = 0.0
    burned: float = 0.0
    conductance: float = 0.0
    wall: float = 300.0
    cylinder: int = -1


@dataclass(frozen=True, eq=False)
class Cylinder:
    """A cylinder: crank (cylinder/crank.py: Cranks), volume where the march starts m3, share burned
    against degrees after the start of burn (lookup.TABLE_STEPS + 1 values), and what of
    arrays.cylinders.Chambers is given; the defaults burn nothing and lose no heat."""

    throw: float
    rod: float
    pin_offset: float
    area: float
    clearance: float
    top: float
    phase: float
    ivc: float
    stroke: float
    swept: float
    burn_start: float
    evo: float
    start_volume: float
    burn_table: np.ndarray
    heat_model: int = 0
    heat_factor: float = 0.0
    exchange_heat: float = 0.0
    head_wall: float = 0.0
    piston_wall: float = 0.0
    liner_wall: float = 0.0
    air_fuel_ratio: float = 0.0
    heat_release: float = 0.0
    delivery: int = 0
    cooling: float = 0.0
    injection_start: float = 0.0
    injection_duration: float = 1.0
    ca50: float = 0.0
    residual_factor: float = 0.0
    steepness: float = GASEOUS.steepness
    shift: float = GASEOUS.shift
    boils_from: float = GASEOUS.boils_from
    boils_to: float = GASEOUS.boils_to
    zones: float = 1.0
    crevice_volume: float = 0.0
    crevice_wall: float = 0.0


@dataclass(frozen=True)
class Echo:
    """An end that is passed again by cylinders that are not computed, ``phases`` degrees after this
    one (ends/echo.py)."""

    end: tuple[str, str]
    phases: tuple[float, ...]
