"""What an engine may have in place of what its file leaves out: one of several things, with their
probabilities; their sizes; the shape of a pipe between its ends.

Each is a function of the file's data and a number z, drawn from the standard normal distribution as in
unsure.py, that gives the data of one case.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from scipy.special import ndtr, ndtri

from aircolumn.engine.description.places import Path, value_at, with_value
from aircolumn.engine.description.units import split_quantity

K = float(ndtri(0.975))  # half-width over standard deviation


@dataclass(frozen=True)
class Alternative:
    """One of several: its probability, the value in the file (of the first: as the file stands), and what it
    is in words, with sizes (SI, kind of quantity) to be put into them."""

    share: float
    value: Any
    words: str
    sizes: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True)
class OneOf:
    """One of several things at a path. The first, the file as it stands, lies around z = 0; the others share
    what is left of the distribution in their order."""

    path: Path
    choices: tuple[Alternative, ...]

    def number(self, z: float) -> int:
        """Which one."""
        first = self.choices[0].share
        left = (float(ndtr(z)) - 0.5 + 0.5 * first) % 1.0
        for k, choice in enumerate(self.choices):
            if left < choice.share:
                return k
            left -= choice.share
        return len(self.choices) - 1

    def __call__(self, data: dict, z: float) -> dict:
        """The data of one case."""
        k = self.number(z)
        return data if k == 0 else with_value(data, self.path, self.choices[k].value)

    def words(self, said: Callable[[float, str], str]) -> str:
        """All of them with their probabilities; said(SI value, kind) -> text."""
        return "; ".join(
            f"{c.words.format(*(said(*size) for size in c.sizes))} ({100.0 * c.share:.0f} of 100)"
            for c in self.choices
        )


@dataclass(frozen=True)
class Scaled:
    """Sizes at places of the data, of what another row may have put there, times (1 + half_width)^(z/K)."""

    keys: tuple[str, ...]
    half_width: float

    def __call__(self, data: dict, z: float) -> dict:
        """The data of one case."""
        factor = (1.0 + self.half_width) ** (z / K)
        for path in (path for key in self.keys for path in places_of(data, key)):
            written = value_at(data, path)
            if written is not None:
                number, name = split_quantity(written)
                data = with_value(data, path, f"{factor * number:.8g} {name}")
        return data


@dataclass(frozen=True)
class Cooled:
    """Pipes whose file says nothing of their walls: the coefficients (W/(m2 K)) with which what is around
    them, at temperatures in K, cools or warms them, times (1 + half_width)^(z/K)."""

    around: tuple[tuple[Path, float, float], ...]
    half_width: float

    def __call__(self, data: dict, z: float) -> dict:
        """The data of one case."""
        factor = (1.0 + self.half_width) ** (z / K)
        for path, temperature, coefficient in self.around:
            outside = {
                "temperature": f"{temperature:.8g} K",
                "coefficient": f"{factor * coefficient:.8g} W/m2/K",
            }
            data = with_value(data, (*path, "surroundings"), outside)
        return data


@dataclass(frozen=True)
class Waisted:
    """A pipe of which only length and end bores (m) are known: half-way its bore is the mean of the two
    times (1 + half_width)^(z/K)."""

    path: Path
    length: float
    first: float
    last: float
    half_width: float

    def __call__(self, data: dict, z: float) -> dict:
        """The data of one case."""
        if z == 0.0 and self.first == self.last:
            return data
        bores = self.first, 0.5 * (self.first + self.last) * (1.0 + self.half_width) ** (z / K), self.last
        half = f"{500.0 * self.length:.8g} mm"
        begin, middle, end = (f"{1e3 * bore:.8g} mm" for bore in bores)
        pipe = {k: v for k, v in value_at(data, self.path).items() if k not in ("length", "bore")}
        pipe["sections"] = [
            {"length": half, "bore": {"from": begin, "to": middle}},
            {"length": half, "bore": {"to": end}},
        ]
        return with_value(data, self.path, pipe)


def places_of(data: Any, key: str) -> Iterator[Path]:
    """The paths that a key stands for in the data; "*": every element of a list that has such a part."""
    before, star, after = key.partition(".*.")
    if not star:
        yield tuple(key.split("."))
        return
    group: Path = tuple(before.split("."))
    for k in range(len(value_at(data, group) or ())):
        path: Path = (*group, k, *after.split("."))
        if value_at(data, path[:-1]) is not None:
            yield path
