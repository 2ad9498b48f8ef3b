"""Keys of the engine file's ``fitted`` section: what a fit to measured pulls found, and how surely."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.units import quantity

FITTED = "fitted"  # the section


class Fitted(FileModel):
    """What ``pull --fit`` found. The values are in the other keys already; here they stand with their
    plus_minus, so that what is left unsure is known. correlation: between them, in their order."""

    discharge: Annotated[float, plain_number(0.3, 2.0)] | None = Field(
        None, description="times intake.valve.discharge.factor"
    )
    fmep: Annotated[float, quantity("pressure", at_least="-500 kPa", at_most="500 kPa")] | None = Field(
        None, description="added to friction.constant"
    )
    walls: Annotated[float, quantity("temperature difference", at_least="-300 K", at_most="300 K")] | None = (
        Field(None, description="by which the walls of runner and port are warmer")
    )
    cam: Annotated[float, quantity("angle", at_least="-60 deg", at_most="60 deg")] | None = Field(
        None, description="by which the intake cam, or the one shaft, is later"
    )
    correlation: list[list[Annotated[float, plain_number(-1.0, 1.0)]]] | None = Field(
        None, description="between the values, a row for each in their order"
    )

    @property
    def values(self) -> dict[str, float]:
        """What was fitted, SI."""
        every = {k: getattr(self, k) for k in type(self).model_fields if k != "correlation"}
        return {k: v for k, v in every.items() if v is not None}

    @model_validator(mode="after")
    def _square(self) -> Self:
        n, rows = len(self.values), self.correlation
        if rows is not None and [len(row) for row in rows] != [n] * n:
            raise ValueError(f"correlation needs {n} rows of {n} numbers, as many as there are values")
        pairs = [(k, j) for k in range(n) for j in range(k + 1)]
        if rows is not None and any(rows[k][j] != rows[j][k] or rows[k][k] != 1.0 for k, j in pairs):
            raise ValueError("correlation must be symmetric, with 1 on its diagonal")
        return self
