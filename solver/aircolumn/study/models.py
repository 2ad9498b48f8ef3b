"""Keys of a study file."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator

from aircolumn.engine.description.base import GROUP, LIST, FileModel, plain_number, required, whole_number
from aircolumn.engine.description.computing import Speeds
from aircolumn.engine.description.quantities import Speed
from aircolumn.engine.description.units import quantity

Torque = Annotated[float, quantity("torque", at_least="-1000 N m", at_most="10000 N m")]
AimName = Literal["mean_torque", "mean_power", "torque", "power", "peak_torque", "flatness"]
AIMS = get_args(AimName)


def _plain(value: float | str) -> float | str:
    """A number, or text."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise ValueError("a number, or text with a unit, is expected here")
    return value


Plain = Annotated[str | int | float, BeforeValidator(_plain)]


class Span(FileModel):
    """Values of one key: from, to and how many steps; or what to add and take away (plus_minus)."""

    start: Plain | None = Field(default=None, alias="from")
    stop: Plain | None = Field(default=None, alias="to")
    steps: Annotated[int, whole_number(2, 10_000)] | None = None
    plus_minus: Plain | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        both = self.start is not None and self.stop is not None
        either = self.start is not None or self.stop is not None or self.steps is not None
        if (self.plus_minus is None) != both or (self.plus_minus is not None and either):
            raise ValueError("give from and to (and steps), or plus_minus alone")
        return self


class Sample(FileModel):
    """A space-filling sample instead of the full grid (scipy.stats.qmc)."""

    method: Literal["sobol", "halton", "latin-hypercube"] = "sobol"
    count: Annotated[int, whole_number(1, 1_000_000)]
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0


class Aim(FileModel):
    """What is to be as great as possible.

    mean_torque, mean_power: over a range, weighted by use where speeds and weights are given;
    torque, power: at one speed; peak_torque; flatness: least over greatest torque of a range.
    """

    of: AimName = "mean_torque"
    at: Speed | None = None
    start: Speed | None = Field(default=None, alias="from")
    stop: Speed | None = Field(default=None, alias="to")
    speeds: list[Speed] | None = None
    weights: list[Annotated[float, plain_number(0.0, 1e6)]] | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        pointed, ranged = self.of in ("torque", "power"), self.of in AIMS[:2] + AIMS[5:]
        if pointed != (self.at is not None):
            raise ValueError("'at' belongs to torque and power, which need it")
        if (self.start is None) != (self.stop is None) or (self.start is not None and not ranged):
            raise ValueError("'from' and 'to' go together, with mean_torque, mean_power, flatness")
        if self.start is not None and required(self.stop) <= self.start:
            raise ValueError("'to' must be above 'from'")
        if (self.speeds is None) != (self.weights is None):
            raise ValueError("speeds and weights go together")
        if self.speeds is not None and self.weights is not None:
            rising = all(b > a for a, b in zip(self.speeds, self.speeds[1:], strict=False))
            same = len(self.speeds) == len(self.weights) >= 2
            if not (rising and same and sum(self.weights) > 0.0 and self.of in AIMS[:2]):
                raise ValueError(
                    "speeds must rise, with as many weights, not all 0, for mean_torque or mean_power"
                )
        return self


class Limit(FileModel):
    """Torque that must be kept at a speed."""

    at: Speed
    at_least: Torque


class Search(FileModel):
    """Look for the best values of the varied keys within from and to.

    evaluations: curves computed, before a few last ones around the best; second_aim: find the
    trade-off between two aims.
    """

    aim: Aim = Aim()
    second_aim: Aim | None = None
    limits: list[Limit] = Field([])
    evaluations: Annotated[int, whole_number(10, 5000)] = 40
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0


class Sensitivity(FileModel):
    """Which key matters: Sobol indices of an aim (count: a power of two)."""

    aim: Aim = Aim()
    count: Annotated[int, whole_number(8, 65536)] = 64
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0

    @model_validator(mode="after")
    def _power(self) -> Self:
        if self.count & (self.count - 1):
            raise ValueError(f"count must be a power of two, not {self.count}")
        return self


class Tolerance(FileModel):
    """What a tolerance (plus_minus) of the varied keys does to the curve."""

    count: Annotated[int, whole_number(4, 10_000)] = 32
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0


def _values(value: Any) -> Any:
    """One value or a list of values, or a span."""
    return value if isinstance(value, (dict, list)) else [value]


def _group_or_list(value: Sequence[float | str] | dict[str, Any]) -> str:
    """Which of the two a value is meant to be, so that only its faults are told."""
    return LIST if isinstance(value, list) else GROUP


Values = Annotated[
    Annotated[Span, Tag(GROUP)] | Annotated[list[Plain], Tag(LIST)],
    Discriminator(_group_or_list),
    BeforeValidator(_values),
]
StudySpeeds = Annotated[
    Annotated[Speeds, Tag(GROUP)] | Annotated[list[Speed], Tag(LIST)],
    Discriminator(_group_or_list),
]


class StudyFile(FileModel):
    """The whole study file: an engine file, what is varied of it, and what is asked.

    screening: the accuracy of VE and torque at which all cases of a sweep or a search are computed; the
    best are computed again at that of the engine file (numerics.accuracy). slice: of a grid, the values
    of further keys at which pictures over the first key are drawn (left out, those of the best case).
    """

    engine: str
    runner: str | None = None
    speeds: StudySpeeds | None = None
    vary: dict[str, Values] = Field({})
    cases: list[dict[str, Plain]] | None = None
    sample: Sample | None = None
    warm_start: bool = False
    screening: Annotated[float, quantity("share", at_least="0.01 %", at_most="2 %")] = 0.005
    slice: dict[str, Plain] = Field({})
    search: Search | None = None
    sensitivity: Sensitivity | None = None
    tolerance: Tolerance | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if bool(self.vary) == (self.cases is not None):
            raise ValueError("give either vary or cases")
        if self.cases is not None and not self.cases:
            raise ValueError("cases is empty")
        asked = [k for k in ("sample", "search", "sensitivity", "tolerance") if getattr(self, k)]
        if len(asked) > 1:
            raise ValueError(f"{' and '.join(asked)}: one study answers one question; keep one")
        if asked and self.cases is not None:
            raise ValueError(f"{asked[0]} needs vary, not cases")
        return self
