"""A varied key of a study: its values, and how they are put into the engine file's data."""

from __future__ import annotations

import copy
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.stats import qmc

from aircolumn.display_units import KINDS, SETS, chosen, unit
from aircolumn.engine.description.base import RUNNERS, required
from aircolumn.engine.description.places import checked_at
from aircolumn.engine.description.units import kind_with, split_quantity, unit_factor
from aircolumn.point_figures import FIGURES

if TYPE_CHECKING:
    from aircolumn.study.models import Sample

#: names that variables of a study's Dataset have already
TAKEN = {"rpm", "case", "curve", "key", "name", *FIGURES}

RUNNER = "runner"  # varied: which candidate is bolted on
SIZES = ("length", "bore")  # a reader takes them for the runner's
CLOSE = 0.04  # of a length: in steps of 20 % a neighbour is no start, in steps of 3 % it halves the march


@dataclass(frozen=True)
class Axis:
    """One varied key.

    key: as in the file, a dotted path; path: where it stands in the engine file's data (a
    candidate's with the candidate bolted on); name: short, for the dimension; unit: as written, ""
    for plain numbers; values: of a list or with steps; low, high: of a span; whole: only whole
    numbers; around: values are added to what the engine file has (plus_minus); owner: the candidate whose
    key it is, None for keys of all.
    """

    key: str
    name: str
    unit: str
    path: tuple[str, ...]
    values: tuple = ()
    low: float = 0.0
    high: float = 0.0
    whole: bool = False
    around: bool = False
    owner: str | None = None

    @property
    def says_runner(self) -> bool:
        """Whether its values are the candidates that may be bolted on."""
        return self.key == RUNNER

    @property
    def in_words(self) -> bool:
        """Whether its values are words, which have no order."""
        return bool(self.values) and isinstance(self.values[0], str)

    def written(self, value: float | str) -> float | str:
        """A value as the engine file writes it."""
        if isinstance(value, str):
            return value
        if self.whole:
            return round(float(value))
        return f"{float(value)!r} {self.unit}" if self.unit else float(value)

    def words_of(self, value: float | str) -> str:
        """A value in words as it is written, and in the units of results where these are others."""
        written = (
            f"{self.name} {value if isinstance(value, str) else format(value, '.4g')} {self.unit}".rstrip()
        )
        if isinstance(value, str) or self.around:
            return written
        kind = getattr(checked_at(self.path), "kind", "")
        if kind not in KINDS or chosen() == SETS[0]:
            return written
        shown = unit(kind)
        factor = unit_factor(self.unit, kind)
        if shown.name == self.unit or factor is None:
            return written
        return f"{written} ({float(shown.of(value * factor[0] + factor[1])):.4g} {shown.name})"

    @property
    def said(self) -> str:
        """The key and its unit in words."""
        steps = self.key.replace("_", " ").split(".")
        named = " ".join(steps[1:] if steps[0] in ("intake", "exhaust") and len(steps) > 2 else steps)
        return f"{named}, {self.unit}" if self.unit else named

    @property
    def ends(self) -> tuple:
        """Its first and last value."""
        values = self.values or (self.low, self.high)
        return values[0], values[-1]

    def is_edge(self, value: float) -> bool:
        """Whether a value is the smallest or largest of three or more."""
        several = len(self.values) > 2 and not isinstance(value, str)
        return several and value in (min(self.values), max(self.values))

    @property
    def in_close_steps(self) -> bool:
        """Whether it is a length that goes in steps of CLOSE of itself at most: neighbours are so alike that
        each is a start for the next."""
        if len(self.values) < 3 or unit_factor(self.unit, "length") is None:
            return False
        return bool(np.all(np.abs(np.diff(self.values)) <= CLOSE * np.abs(self.values[1:])))

    def nearest(self, value: Any) -> int:
        """Which of the axis' values is nearest to ``value``; a word must be one of them. Raises
        ValueError."""
        if isinstance(self.values[0], str) or isinstance(value, str):
            return self.values.index(value)
        return min(range(len(self.values)), key=lambda k: abs(self.values[k] - value))

    @cached_property
    def shares(self) -> np.ndarray:
        """Where its values stand between the least (0) and the greatest (1); words stand apart evenly. Of a
        span without values: none."""
        if self.in_words or self.low == self.high:
            return np.linspace(0.0, 1.0, len(self.values))
        return (np.array(self.values, dtype=float) - self.low) / (self.high - self.low)

    def snapped(self, share: float) -> float:
        """The share, 0 to 1, of the nearest value that it can have."""
        share = min(max(share, 0.0), 1.0)
        if self.values:
            return float(self.shares[np.argmin(np.abs(self.shares - share))])
        span = self.high - self.low
        return round(share * span) / span if self.whole else share

    def share_of(self, value: float | str) -> float:
        """The share, 0 to 1, of the value it can have that is nearest to ``value``. Raises ValueError for a
        word that is none of its values."""
        if self.in_words:
            return float(self.shares[self.values.index(value)])
        span = self.high - self.low
        return self.snapped((float(value) - self.low) / span if span > 0.0 else 0.0)

    def scaled(self, share: float) -> float | str:
        """The value at a share, 0 to 1, of the span; of a list the nearest."""
        if self.values:
            return self.values[int(np.argmin(np.abs(self.shares - share)))]
        value = self.low + share * (self.high - self.low)
        return float(round(value)) if self.whole else value


def short_names(keys: Sequence[str]) -> list[str]:
    """The last word of each key where that says enough and is unique ("bore_from" for a bore's from,
    "throttle_bore" for a size of another part than the runner), else the whole path with underscores."""
    words = [key.split(".") for key in keys]
    last = ["_".join(w[-_telling(w) :]) for w in words]
    return [
        word if last.count(word) == 1 and word not in TAKEN else key.replace(".", "_")
        for key, word in zip(keys, last, strict=True)
    ]


def _telling(words: Sequence[str]) -> int:
    """How many of the last words of a key say what it is."""
    ends = 2 if words[-1] in ("from", "to") else 1
    of_other = words[-ends] in SIZES and len(words) > 2 and RUNNER not in words and RUNNERS not in words
    return ends + of_other


def numbers_in_one_unit(values: Sequence[float | str]) -> tuple[str, list[float]]:
    """(unit, numbers) of values that are all plain, or all text in one unit. Raises ValueError."""
    if all(isinstance(v, (int, float)) for v in values):
        unit, numbers = "", [float(v) for v in values]
    else:
        pairs = [split_quantity(str(v)) for v in values]
        units = {unit for _, unit in pairs}
        if len(units) > 1:
            raise ValueError(f"write all values in one unit, not {', '.join(sorted(units))}")
        unit, numbers = units.pop(), [number for number, _ in pairs]
    if not np.all(np.isfinite(numbers)):
        raise ValueError("finite numbers are expected here")
    return unit, numbers


def sampled(sample: Sample, size: int) -> np.ndarray:
    """Shares 0 to 1 (cases, axes) of a space-filling sample over so many axes."""
    kinds = {"sobol": qmc.Sobol, "halton": qmc.Halton, "latin-hypercube": qmc.LatinHypercube}
    source = kinds[sample.method](size, rng=np.random.default_rng(sample.seed))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # counts that are no power of two
        return source.random(sample.count)


def with_key(data: Any, steps: tuple[str, ...], axis: Axis, value: float | str) -> Any:
    """``data`` with the value at the path; nothing else is copied or changed."""
    if not steps:
        return _shifted(data, axis, value) if axis.around else axis.written(value)
    changed: Any = copy.copy(data) if isinstance(data, (dict, list)) else {}
    step: Any = int(steps[0]) if isinstance(changed, list) and steps[0].isdecimal() else steps[0]
    inner = changed[step] if isinstance(changed, list) else changed.get(step)
    changed[step] = with_key(inner, steps[1:], axis, value)
    return changed


def _shifted(old: Any, axis: Axis, by: Any) -> Any:
    """Every quantity in ``old`` (a value, or a group or list of values) more by ``by``."""
    if old is None:
        raise LookupError("not in the file")
    if isinstance(old, dict):
        return {k: _shifted(v, axis, by) for k, v in old.items()}
    if isinstance(old, list):
        return [_shifted(v, axis, by) for v in old]
    if isinstance(old, (int, float)):
        return old + by
    number, unit = split_quantity(str(old))
    kind = kind_with(unit, axis.unit)
    if kind is None:
        raise ValueError(f"'{axis.unit}' does not go with '{old}'")
    factor, own = (required(unit_factor(name, kind))[0] for name in (axis.unit, unit))
    return f"{float(number + by * factor / own)!r} {unit}"
