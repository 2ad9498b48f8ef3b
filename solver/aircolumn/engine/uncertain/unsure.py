"""One thing that is not known for sure, and what the engine file would say of it in one case of many.

A case is a number z, drawn from the standard normal distribution; z = 0 is the file as it stands. With h the
half-width of the interval that holds the true value in 95 of 100 cases, and k = 1.96:

    plus      value + h z/k
    times     value (1 + h)^(z/k): for what is known to a factor
    above     value + h (2 Phi(|z|) - 1)/0.95, Phi the normal distribution: for what can only be more than
              is assumed; evenly, as what is assumed is the end of the range and not its likeliest place
    own       as a function of its own says: one of several things, the shape of a pipe (alternatives.py)

Values end at the limits of their keys.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from aircolumn.engine.description.places import Path, checked_at, with_value
from aircolumn.engine.description.units import in_trade_units
from aircolumn.engine.uncertain.alternatives import K

WITHIN = 0.95  # of the cases
PLUS, TIMES, ABOVE, OWN = "plus", "times", "above", "own"


def evenly(z: Any) -> Any:
    """A number of a case (or an array of them) as one between 0 and 1, each as likely as the other."""
    return 2.0 * ndtr(np.abs(z)) - 1.0


@dataclass(frozen=True)
class Unsure:
    """One thing that is not known for sure.

    key: as the file would write it; values: what is taken at each path, SI (none for OWN); half_width: SI,
    or a share for TIMES; way: PLUS, TIMES, ABOVE or OWN; source: of the spread; settle: what would settle it,
    as "measure ..."; stated: whether the file states the spread; alike: one name for rows that are one
    unknown, though some candidates have more such parts than others; change: of OWN, what it does to the
    data (alternatives.py).
    """

    key: str
    values: dict[Path, Any]
    half_width: float
    way: str
    source: str
    settle: str
    stated: bool = False
    alike: str = ""
    change: Callable[[dict, float], dict] | None = None

    @property
    def one(self) -> str:
        """What is drawn once for all candidates."""
        return self.alike or self.key

    def at(self, z: float) -> dict[Path, Any]:
        """The values of one case, as the file would write them, by path."""
        if z == 0.0 and self.stated:
            return {}
        return {path: written(path, self._moved(value, z)) for path, value in self.values.items()}

    def _moved(self, value: float, z: float) -> float:
        if self.way == TIMES:
            return value * (1.0 + self.half_width) ** (z / K)
        if self.way == ABOVE:
            return value + self.half_width * evenly(z) / WITHIN
        return value + self.half_width * z / K

    def apply(self, data: dict, z: float) -> dict:
        """The file's data in one case."""
        if self.change is not None:
            return self.change(data, z)
        for path, value in self.at(z).items():
            data = with_value(data, path, value)
        return data


def written(path: Path, value: float) -> Any:
    """An SI value as the file writes it, within the limits of its key."""
    checked = checked_at(path)
    if checked is None:
        return value
    low, high = checked.limits()
    value = min(max(value, low if low is not None else value), high if high is not None else value)
    return in_trade_units(value, checked.kind, ".12g") if checked.kind else value
