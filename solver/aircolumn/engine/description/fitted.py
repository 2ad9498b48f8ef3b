"""Keys of the engine file's ``fitted`` section: what a fit to measured pulls found, and how surely."""

from collections.abc import Sequence
from itertools import combinations
from typing import Annotated, Any, Self

import numpy as np
from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.units import quantity

FITTED = "fitted"  # the section
CORRELATION, BETWEEN = "correlation", "-"  # its key, and what stands between the names of a pair
ROUNDED = 1e-4  # what rounding may take from an eigenvalue


class Fitted(FileModel):
    """What ``pull --fit`` found. The values are in the other keys already; here they stand with their
    plus_minus, so that what is left unsure is known. correlation: between them, by pairs."""

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
        None, description="by which the intake cam, or the single camshaft, is later"
    )
    correlation: dict[str, Annotated[float, plain_number(-1.0, 1.0)]] | None = Field(
        None, description="between two values, by their names: discharge-fmep: 0.64; pairs left out go with 0"
    )

    @property
    def values(self) -> dict[str, float]:
        """What was fitted, SI."""
        every = {k: getattr(self, k) for k in type(self).model_fields if k != CORRELATION}
        return {k: v for k, v in every.items() if v is not None}

    @property
    def matrix(self) -> np.ndarray:
        """Correlation between the values, in the order of ``values``."""
        names = list(self.values)
        found = np.eye(len(names))
        for pair, value in (self.correlation or {}).items():
            k, j = (names.index(name) for name in pair.split(BETWEEN))
            found[k, j] = found[j, k] = value
        return found

    @model_validator(mode="before")
    @classmethod
    def _pairs_of_rows(cls, data: Any) -> Any:
        """Files of version 0.2 and before hold the correlation as rows of a matrix, in the order in which
        the values stand in the file."""
        rows = data.get(CORRELATION) if isinstance(data, dict) else None
        if not isinstance(rows, list):
            return data
        names = [k for k in data if k in cls.model_fields and k != CORRELATION]
        n = len(names)
        if [len(row) if isinstance(row, list) else 0 for row in rows] != [n] * n:
            raise ValueError(
                f"correlation needs {n} rows of {n} numbers, as many as there are values; better by pairs:"
                " {discharge-fmep: 0.64}"
            )
        lower = [(k, j) for k in range(n) for j in range(k + 1)]
        if any(rows[k][j] != rows[j][k] or rows[k][k] != 1.0 for k, j in lower):
            raise ValueError("correlation must be symmetric, with 1 on its diagonal")
        return {
            **data,
            CORRELATION: {f"{names[j]}{BETWEEN}{names[k]}": rows[k][j] for k, j in lower if j < k},
        }

    @model_validator(mode="after")
    def _possible(self) -> Self:
        known, seen = self.values, set()
        for pair in self.correlation or {}:
            names = pair.split(BETWEEN)
            if len(names) != 2 or names[0] == names[1] or not set(names) <= set(known):
                raise ValueError(
                    f"correlation: '{pair[:40]}' is not a pair of fitted values such as"
                    f" {BETWEEN.join(list(known)[:2]) or 'discharge-fmep'}; there are: {', '.join(known)}"
                )
            if frozenset(names) in seen:
                raise ValueError(f"correlation: '{pair}' stands there twice")
            seen.add(frozenset(names))
        if known and np.linalg.eigvalsh(self.matrix).min() < -ROUNDED:
            raise ValueError(
                "correlation: no quantities go together like this (the matrix has an eigenvalue below 0)"
            )
        return self


def by_pairs(names: Sequence[str], matrix: np.ndarray) -> dict[str, float]:
    """A correlation matrix as the file writes it."""
    pairs = combinations(range(len(names)), 2)
    return {f"{names[k]}{BETWEEN}{names[j]}": round(float(matrix[k, j]), 6) for k, j in pairs}
