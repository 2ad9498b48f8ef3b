"""The keys of a search in a study file, and what is wrong with them before anything is computed."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.curves.interest import interest
from aircolumn.engine.description.base import FileModel, whole_number
from aircolumn.errors import RequestError
from aircolumn.questions.aims import Aim, check_aim
from aircolumn.questions.search.limits import Limit, checked_limits
from aircolumn.study.models import Asked
from aircolumn.study.plan import Plan

BANDS = "bands"  # short for an Over with nothing said


class Over(FileModel):
    """For every engine that the file's may be, not only for the file as it stands.

    engines: how many are drawn; percentile: of the figure over them, 10 for what 9 of 10 engines reach; left
    out, the mean is taken.
    """

    engines: Annotated[int, whole_number(16, 1024)] = 64
    percentile: Annotated[int, whole_number(5, 50)] | None = None

    @property
    def words(self) -> str:
        """What of the engines counts."""
        taken = "the mean" if self.percentile is None else f"the {self.percentile}th percentile"
        return f"{taken} over {self.engines} engines that the file's may be"


def _over(value: Any) -> Any:
    if isinstance(value, str):
        if value != BANDS:
            raise ValueError(f"'{value[:40]}': write {BANDS}, or {{engines: 64, percentile: 10}}")
        return {}
    return value


class Search(Asked):
    """Look for the best values of the varied keys within from and to, or among sizes that exist.

    evaluations: curves computed, before a few last ones around the best; second_aim: find the
    trade-off between two aims; over: be right for more engines than the one of the file.
    """

    given = "sizes"

    aim: Aim = Aim()
    second_aim: Aim | None = None
    limits: list[Limit] = Field([])
    over: Annotated[Over | None, BeforeValidator(_over)] = None
    evaluations: Annotated[int, whole_number(10, 5000)] = 40
    seed: Annotated[int, whole_number(0, 2**31 - 1)] = 0

    @model_validator(mode="after")
    def _one_answer(self) -> Self:
        if self.second_aim is not None and self.second_aim == self.aim:
            raise ValueError("aim and second_aim are the same: there is nothing to trade off; keep one")
        if self.second_aim is not None and self.over is not None:
            raise ValueError("over goes with one aim; leave out second_aim or over")
        return self

    def cases(self, keys: int) -> int:
        """The curves asked for."""
        return self.evaluations


def checked_aims(plan: Plan) -> tuple[list[Aim], list[Limit]]:
    """Aims and limits of a plan's search, what they leave out filled in. Raises RequestError where the plan's
    speeds do not cover them, and for limits that cannot be kept."""
    asked = plan.study.keys_of(Search)
    span = interest(plan.engine.speeds, plan.speeds)
    aims = [check_aim(a, plan.speeds, span) for a in (asked.aim, asked.second_aim) if a is not None]
    if len(aims) > 1 and aims[0] == aims[1]:
        raise RequestError(f"both aims are the {aims[0].words}: there is nothing to trade off; keep one")
    return aims, checked_limits(plan, asked.limits, span)
