"""Air that is supplied at a pressure of its own instead of drawn from the open air."""

from itertools import pairwise
from typing import Annotated, Any, NamedTuple, Self

import numpy as np
from pydantic import BeforeValidator, Field, model_validator

from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.quantities import Speed
from aircolumn.engine.description.units import quantity


def _listed(value: Any) -> Any:
    """One value stands for a list of one."""
    return value if isinstance(value, list) else [value]


def _one_or_more(kind: Any) -> Any:
    return Annotated[list[kind], BeforeValidator(_listed), Field(min_length=1, max_length=50)]


SupplyPressure = Annotated[float, quantity("pressure", at_least="20 kPa", at_most="400 kPa")]
SupplyTemperature = Annotated[float, quantity("temperature", at_least="-50 degC", at_most="200 degC")]


class AirState(NamedTuple):
    """State of the air that the engine takes: Pa, K."""

    pressure: float
    temperature: float


class Supply(FileModel):
    """Pressure and temperature of the supplied air, the same at all speeds, or one of each at every
    one of ``speeds``: straight lines between them, and beyond the last values."""

    speeds: list[Speed] | None = Field(None, description="engine speeds of the table below")
    pressure: _one_or_more(SupplyPressure) = Field(  # type: ignore[valid-type]
        description="of the air fed, one value or one for each speed"
    )
    temperature: _one_or_more(SupplyTemperature) = Field(  # type: ignore[valid-type]
        description="of the air fed, one value or one for each speed"
    )

    @model_validator(mode="after")
    def _table(self) -> Self:
        count = 1 if self.speeds is None else len(self.speeds)
        for name in ("pressure", "temperature"):
            found = len(getattr(self, name))
            if found not in (1, count):
                raise ValueError(f"{found} values of {name} for {count} speeds; give one for each")
        if self.speeds is not None and any(b <= a for a, b in pairwise(self.speeds)):
            raise ValueError("speeds must rise")
        return self

    def at(self, rpm: float) -> "Supply":
        """The supply at one speed, for all speeds."""
        if self.speeds is None:
            return self
        found = {}
        for name in ("pressure", "temperature"):
            values = np.broadcast_to(getattr(self, name), len(self.speeds))
            found[name] = [float(np.interp(rpm, self.speeds, values))]
        return self.changed(speeds=None, **found)

    @property
    def source(self) -> AirState:
        """The state, of a table the first."""
        return AirState(self.pressure[0], self.temperature[0])
