"""How the control unit meters fuel: what its table of filling is referred to, and the injectors."""

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number, whole_number
from aircolumn.engine.description.quantities import Share, Speed
from aircolumn.engine.description.units import quantity

Pressure = Annotated[float, quantity("pressure", at_least="1 kPa", at_most="400 kPa")]
Drop = Annotated[float, quantity("pressure", at_least="20 kPa", at_most="50 MPa")]
Volts = Annotated[float, quantity("voltage", at_least="4 V", at_most="100 V")]
Time = Annotated[float, quantity("time", at_least="0 s", at_most="20 ms")]
Density = Annotated[float, quantity("density", at_least="400 kg/m3", at_most="1500 kg/m3")]
Lambda = Annotated[float, plain_number(0.5, 2.0)]
MOST = 64  # speeds or loads


class Injectors(FileModel):
    """The injectors of a cylinder, alike. Their flow at another pressure goes with the square root of the
    pressure across them; they open once in a cycle and stay shut for the dead time."""

    flow: Annotated[float, quantity("mass flow", above="0 g/min", at_most="20 kg/min")] | None = Field(
        None, description="of fuel through one held open, by mass"
    )
    volume_flow: Annotated[float, quantity("volume flow", above="0 cc/min", at_most="20 L/min")] | None = (
        Field(None, description="of the test fluid through one held open, in place of flow")
    )
    fluid_density: Density = Field(690.0, description="of the test fluid")
    fuel_density: Density = Field(745.0, description="of the fuel, where volume_flow is given")
    at: Drop = Field(300e3, description="pressure across it at which the flow is stated")
    rail: Drop = Field(300e3, description="fuel pressure above that of the manifold, or of the open air")
    regulated_to: Literal["manifold", "air"] = Field(
        "manifold", description="what the fuel pressure is kept above"
    )
    per_cylinder: Annotated[int, whole_number(1, 4)] = Field(1, description="how many a cylinder has")
    dead_time: Time = Field(0.0009, description="before fuel flows, at the battery's voltage")
    dead_times: list[Time] | None = Field(None, description="at voltages, in place of dead_time")
    voltages: list[Volts] | None = Field(None, description="of the dead times, rising")
    battery: Volts = Field(13.8, description="voltage with the engine running")
    most_duty: Annotated[float, quantity("share", at_least="10 %", at_most="100 %")] = Field(
        0.85, description="share of the cycle that they may stay open"
    )

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.flow is None) == (self.volume_flow is None):
            raise ValueError("give flow or volume_flow")
        times, volts = self.dead_times or [], self.voltages or []
        if len(times) != len(volts):
            raise ValueError("give one of dead_times for each of voltages")
        if any(b <= a for a, b in pairwise(volts)):
            raise ValueError("voltages must rise")
        return self


class Fuelling(FileModel):
    """The table that the control unit needs (`aircolumn fuelling`)."""

    filling: Literal["manifold", "fresh", "ambient"] = Field(
        "manifold",
        description="what VE is referred to: air at the manifold's pressure and temperature, the fresh air"
        " alone that is in the plenum, or the air outside",
    )
    speeds: list[Speed] | None = Field(None, max_length=MOST, description="of the table, rising")
    pressures: list[Pressure] | None = Field(
        None, max_length=MOST, description="manifold absolute pressures of the table, rising"
    )
    openings: list[Share] | None = Field(
        None, max_length=MOST, description="throttle openings of the table, in place of pressures, rising"
    )
    lambda_target: Lambda | None = Field(
        None, description="relative air-fuel ratio to be metered; left out: that of the mixture"
    )
    injectors: Injectors | None = Field(None, description="left out: no pulse widths are told")

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if self.pressures is not None and self.openings is not None:
            raise ValueError("give pressures or openings")
        for name in ("speeds", "pressures", "openings"):
            values = getattr(self, name)
            falls = values is not None and any(b <= a for a, b in pairwise(values))
            if falls or (values is not None and len(values) < 2):
                raise ValueError(f"{name} must rise, two or more")
        return self
