"""Keys of a study file."""

from collections.abc import Sequence
from typing import Annotated, Any, ClassVar, Literal, Self, TypeVar

from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator

from aircolumn.engine.description.base import GROUP, LIST, FileModel, whole_number
from aircolumn.engine.description.computing import Speeds
from aircolumn.engine.description.quantities import Speed
from aircolumn.engine.description.units import quantity

Keys = TypeVar("Keys", bound="Asked")
CHOICES = "choices"  # another way to write a list of values: there are only these


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


class Asked(FileModel):
    """The keys of one kind of study beside what is varied; each kind has its own (questions/).

    given: how its varied keys are: a "span" (from, to), a span or "sizes" that exist (a list), or "around"
    what the file has (plus_minus).
    """

    given: ClassVar[Literal["span", "sizes", "around"]] = "span"

    def cases(self, keys: int) -> int:
        """How many curves are computed for so many varied keys, about."""
        raise NotImplementedError


def _values(value: Any) -> Any:
    """One value or a list of values, or a span."""
    if isinstance(value, dict) and CHOICES in value:
        if len(value) > 1:
            raise ValueError("choices stands alone: {choices: [38 mm, 41 mm, 45 mm]}")
        value = value[CHOICES]
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
    """The whole study file but for what further kinds of study have (questions/): an engine file and what is
    varied of it.

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

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if bool(self.vary) == (self.cases is not None):
            raise ValueError("give either vary or cases")
        if self.cases is not None and not self.cases:
            raise ValueError("cases is empty")
        asked = [k for k in ("sample", *self._kinds()) if getattr(self, k)]
        if len(asked) > 1:
            raise ValueError(f"{' and '.join(asked)}: one study answers one question; keep one")
        if asked and self.cases is not None:
            raise ValueError(f"{asked[0]} needs vary, not cases")
        return self

    @classmethod
    def _kinds(cls) -> list[str]:
        """The keys of kinds of study."""
        return [name for name in cls.model_fields if name not in StudyFile.model_fields]

    @property
    def asked(self) -> tuple[str, Asked] | None:
        """The kind that is asked for, and its keys; None: all cases are computed."""
        return next(((k, keys) for k in self._kinds() if (keys := getattr(self, k)) is not None), None)

    def keys_of(self, kind: type[Keys]) -> Keys:
        """The keys of the kind that is asked for."""
        assert self.asked is not None
        assert isinstance(self.asked[1], kind)
        return self.asked[1]
