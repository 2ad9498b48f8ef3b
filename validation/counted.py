"""Arithmetic and traffic of the duct kernels, counted by running their own source in plain Python
on numbers that count what is done with them."""

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import ClassVar

from aircolumn.flow.arrays.ducts import Cells, Feet, Fluxes, Mesh, Middle, Nodes, Profile
from aircolumn.flow.duct import characteristics as ch
from aircolumn.flow.duct import conservation as co
from aircolumn.flow.duct import layer, walls
from aircolumn.flow.duct import reconstruction as re
from aircolumn.flow.gas.fuels import GASOLINE
from aircolumn.flow.gas.kernels import energy, gamma, gas_constant
from aircolumn.flow.gas.mixture import working_gas

PLACES = 12
NAMES = ("rho", "u", "p", "a", "gamma", "yf", "yb")
CELLS = PLACES - 2  # that the kernels' loops run over


@dataclass(frozen=True)
class Work:
    """For each cell and step: arithmetic operations, of them divisions and square roots, and bytes
    that the kernels read and write (each number once a kernel, as if nothing stayed between)."""

    operations: float
    divisions: float
    bytes: float


class Tally:
    """What was counted."""

    operations = 0
    divisions = 0


class Number(float):
    """Counts additions, multiplications, divisions, comparisons and changes of sign."""


def _counting(name: str, weight: bool):
    plain = getattr(float, name)

    def operation(self, *others):
        Tally.operations += 1
        Tally.divisions += weight
        value = plain(self, *others)
        return Number(value) if isinstance(value, float) else value

    return operation


for _name in ("add", "radd", "sub", "rsub", "mul", "rmul", "truediv", "rtruediv"):
    setattr(Number, f"__{_name}__", _counting(f"__{_name}__", "div" in _name))
for _name in ("neg", "abs", "lt", "le", "gt", "ge"):
    setattr(Number, f"__{_name}__", _counting(f"__{_name}__", False))


def _root(x):
    Tally.operations += 1
    Tally.divisions += 1
    return Number(math.sqrt(x))


def _log2(x):
    """As compiled/vector_math.py: 13 operations, one of them a division."""
    Tally.operations += 13
    Tally.divisions += 1
    return Number(math.log2(x))


class Row(list):
    """A row of a block; notes which of its places are touched."""

    touched: ClassVar[set[tuple[int, int]]] = set()

    def __getitem__(self, j):
        Row.touched.add((id(self), j))
        return super().__getitem__(j)

    def __setitem__(self, j, value):
        Row.touched.add((id(self), j))
        super().__setitem__(j, Number(value))


def _rows(kind, **values):
    """Rows of ``kind`` with these values, 1 elsewhere."""
    return kind(*(Row([Number(values.get(f, 1.0))] * PLACES) for f in kind._fields))


@contextmanager
def _counting_roots() -> Iterator[None]:
    """Roots and logarithms of the kernels' modules count too."""
    kept = [
        (m, n, getattr(m, n)) for m in (ch, co, re, layer, walls) for n in ("sqrt", "log2") if hasattr(m, n)
    ]
    for module, name, _ in kept:
        setattr(module, name, _log2 if name == "log2" else _root)
    try:
        yield
    finally:
        for module, name, value in kept:
            setattr(module, name, value)


def arithmetic() -> Work:
    """What a cell and step of the conservative member takes, with walls, where nothing is steep."""
    gas = working_gas(0.9, GASOLINE, 0.01).gas
    gas = type(gas)(*map(Number, gas))
    air = _air(gas, rho=1.2, u=50.0, temperature=300.0, yf=0.05, yb=0.05)
    straight = dict.fromkeys(("slope_l", "slope_m", "slope_r", "taper_l", "taper_r", "coarse"), 0.0)
    mesh = _rows(Mesh, **straight, dx=0.01, per_dx=100.0, per_mid=0.25, wall=350.0, rough=1e-4)
    mid = _rows(Middle, **air)
    level = {f"{n}0": air[q] for n, q in zip("rupagfb", NAMES, strict=True)}
    prof = _rows(Profile, **dict.fromkeys(Profile._fields, 0.0) | level)
    total = air["inner"] + 0.5 * air["rho"] * air["u"] ** 2
    cells = _rows(Cells, mass=1.2, momentum=60.0, energy=total, fuel=0.06, burned=0.06)
    old, half, new = (_rows(Nodes, **air) for _ in range(3))
    flux, feet, heat = _rows(Fluxes), _rows(Feet), Row([Number(0.0)] * PLACES)
    memory = _Memory([Row([Number(0.0)] * PLACES) for _ in range(1 + layer.MEMORIES)])
    last, dt = PLACES - 1, Number(1e-5)
    kernels = (
        (re.means, mesh, cells, mid, PLACES),
        (re.mark_steep, mesh, old, mid, last),
        (re.middle_states, gas, mesh, cells, old, mid, last),
        (re.smooth_parabolas, old, mid, prof, last),
        (layer.swing, mesh, mid, memory, prof.swing, dt, last),
        (re.wall_terms, gas, mesh, mid, prof, last),
        (ch.half_step, mesh, prof, old, half, feet, last, dt),
        (co.energies, gas, half, last),
        (re.wall_terms_half_way, gas, mesh, half, prof, last),
        (ch.full_step, mesh, prof, old, half, new, feet, last, dt),
        (co.finish_and_integrate, gas, mesh, mid, old, half, new, flux, last),
        (co.advance_cells, mesh, mid, prof, old, half, flux, cells, heat, last, dt),
    )
    Tally.operations = Tally.divisions = touched = 0
    with _counting_roots():
        for kernel, *arguments in kernels:
            Row.touched.clear()
            kernel(*arguments)
            touched += len(Row.touched)
    return Work(Tally.operations / CELLS, Tally.divisions / CELLS, 8.0 * touched / CELLS)


def _air(gas, rho, u, temperature, yf, yb) -> dict[str, float]:
    """A state under the names of rows."""
    g, r = gamma(gas, yf, yb, temperature), gas_constant(gas, yf, yb)
    e = energy(gas, yf, yb, temperature)
    return {
        "rho": rho,
        "u": u,
        "p": rho * r * temperature,
        "a": (g * r * temperature) ** 0.5,
        "gamma": g,
        "yf": yf,
        "yb": yb,
        "e": e,
        "temperature": temperature,
        "density": rho,
        "inner": rho * e,
        "share": yb,
    }


class _Memory:
    """Rows under two indices."""

    def __init__(self, rows):
        self.rows = rows

    def __getitem__(self, at):
        return self.rows[at[0]][at[1]]

    def __setitem__(self, at, value):
        self.rows[at[0]][at[1]] = value
