"""The exhaust of the engine file, from the valve to the air."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.pipes import Collector, Merge, Pipe, PipePerCylinder
from aircolumn.engine.description.quantities import GasTemperature, Pressure, Speed
from aircolumn.engine.description.surrounded import surround
from aircolumn.engine.description.units import quantity
from aircolumn.engine.description.valves import ExhaustValve


class Outlet(FileModel):
    """What the exhaust pipe opens into: a pressure, or one that stands above the air outside by
    ``back_pressure`` at the engine speed ``at``, and with the speed squared."""

    pressure: Pressure | None = Field(None, description="behind the last pipe; left out: ambient")
    back_pressure: Annotated[float, quantity("pressure", at_least="0 Pa", at_most="100 kPa")] | None = Field(
        None, description="above ambient at a speed, and with the speed squared"
    )
    at: Speed | None = Field(None, description="engine speed of back_pressure")
    temperature: GasTemperature = Field(600.0, description="of gas that flows back")

    @model_validator(mode="after")
    def _one_pressure(self) -> Self:
        if (self.back_pressure is None) != (self.at is None):
            raise ValueError("back_pressure needs the engine speed at which it stands (at)")
        if self.pressure is not None and self.back_pressure is not None:
            raise ValueError("give either pressure or back_pressure, not both")
        return self

    def pressure_at(self, rpm: float, ambient: float) -> float:
        """Behind the last pipe at an engine speed, Pa."""
        if self.back_pressure is not None and self.at is not None:
            return ambient + self.back_pressure * (rpm / self.at) ** 2
        return self.pressure or ambient


class Silencer(FileModel):
    """A volume at the end of the exhaust and what it loses: ``pressure_drop`` at the mass flow
    ``flow`` of gas of ``temperature``, and with the flow squared; of the whole engine."""

    volume: Annotated[float, quantity("volume", at_least="0.2 L", at_most="1000 L")] = Field(
        description="inside"
    )
    pressure_drop: Annotated[float, quantity("pressure", above="0 Pa", at_most="100 kPa")] = Field(
        description="at the flow stated; grows with the flow squared"
    )
    flow: Annotated[float, quantity("mass flow", above="0 g/s", at_most="5 kg/s")] = Field(
        description="of exhaust gas, whole engine"
    )
    temperature: GasTemperature = Field(673.15, description="of the gas for which that is stated")


class Exhaust(FileModel):
    """From the cylinder to the air.

    collector: where primaries meet; merge: where the collectors of several groups meet and go on as
    one pipe (4-2-1); silencer: what the last pipe opens into.
    """

    valve: ExhaustValve = Field(description="exhaust valves of a cylinder")
    port: PipePerCylinder = Field(description="exhaust port in the head")
    primary: PipePerCylinder = Field(description="pipe of each cylinder behind the port")
    collector: Collector | None = Field(None, description="pipe in which primaries meet")
    merge: Merge | None = Field(None, description="pipe in which collectors meet again (4-2-1)")
    silencer: Silencer | None = Field(None, description="what the last pipe opens into")
    outlet: Outlet = Field(Outlet(), description="state beyond the last pipe")

    @property
    def gathered(self) -> dict[str, Pipe]:
        """The pipes behind junctions, by their key."""
        pipes = {"collector": self.collector, "merge": self.merge}
        return {name: pipe for name, pipe in pipes.items() if pipe is not None}

    @model_validator(mode="after")
    def _merging(self) -> Self:
        groups = self.collector and self.collector.groups
        if self.merge is not None and len(groups or []) < 2:
            raise ValueError("a merge needs a collector with two or more groups")
        if self.silencer is not None and self.outlet.back_pressure:
            raise ValueError("give either a silencer, which makes back pressure, or outlet.back_pressure")
        return self

    @model_validator(mode="after")
    def _walls(self) -> Self:
        for name in ("port", "primary", "collector", "merge"):
            surround(getattr(self, name), f"exhaust.{name}")
        return self
