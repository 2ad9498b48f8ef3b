"""What a network is declared of, kept until it is marched: ducts, and whose ends are taken."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

import numpy as np

from aircolumn.flow.duct.division import STEEPEST, divide
from aircolumn.flow.duct.geometry import Shape
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


def check_numbers(what: str, least: float = -inf, **numbers: float) -> None:
    """Raise ValueError for numbers that are not finite, or less than ``least``."""
    for name, value in numbers.items():
        if not (np.isfinite(value) and value >= least):
            allowed = "a finite number" if least == -inf else f"a finite number of {least:g} or more"
            raise ValueError(f"{what}: {name} {value}: {allowed} is expected")


def check_state(what: str, pressure: float, temperature: float) -> None:
    """Raise ValueError for a pressure (Pa) or temperature (K) that gas cannot have."""
    if not 0.0 < pressure < inf:
        raise ValueError(f"{what}: pressure {pressure} Pa: a finite number above 0 is expected")
    if not COLDEST <= temperature <= HOTTEST:
        raise ValueError(
            f"{what}: temperature {temperature} K: from {COLDEST:g} to {HOTTEST:g} K is expected (not degC)"
        )


def laid_out(shape: Shape, cells: int, wall: Wall, steepest: float) -> DuctLayout:
    """A duct of about ``cells`` cells (see Network.duct)."""
    reaches, changes = divide(shape, shape.length / cells, steepest)
    return DuctLayout(shape, tuple(reaches), tuple(changes), wall)


@dataclass
class Declared:
    """What has been declared so far: see Network, which adds the ends and volumes."""

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
        steepest: float = STEEPEST,
    ) -> None:
        """Add a duct.

        Parameters
        ----------
        name : str
            Under which its ends are declared and probes are placed.
        shape : Shape
            Bore against distance, m; sudden changes of bore become steps with their loss.
        cells : int
            About how many, 2 or more; nodes stand where the shape asks for them.
        state : GasState
            Of the gas in it at the start.
        wall : Wall
            Left out, neither friction nor heat.
        steepest : float
            Half the change of bore over length from which a wall is a sudden change (duct/division.py).

        Raises
        ------
        ValueError
            For fewer cells, a name that is taken, no GasState.
        """
        if cells < 2:
            raise ValueError(f"duct {name!r} needs at least 2 cells, not {cells}")
        if not isinstance(state, GasState):
            raise ValueError(f"duct {name!r}: a GasState is expected, not {state!r}")
        self.laid_duct(name, laid_out(shape, cells, wall, steepest), state)

    def laid_duct(self, name: str, layout: DuctLayout, state: GasState) -> None:
        """Add a duct that is laid out already.

        Parameters
        ----------
        name : str
        layout : DuctLayout
            By ``laid_out``.
        state : GasState

        Raises
        ------
        ValueError
            For a name that is taken.
        """
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

    def end_area(self, duct: str, side: str) -> float:
        """Flow area of a duct at an end, m2.

        Parameters
        ----------
        duct, side : str
            The end: name of a duct, "left" or "right".

        Returns
        -------
        float

        Raises
        ------
        KeyError
            For a duct that there is not.
        """
        reach = self.ducts[duct].reaches[0 if side == "left" else -1]
        return float(reach.shape.area(0.0 if side == "left" else reach.shape.length))
