"""The exhaust of the engine file, from the valve to the air."""

from typing import Annotated

from pydantic import model_validator

from aircolumn.description.kinds import GasTemperature, Pressure
from aircolumn.description.parts import Part
from aircolumn.description.pipes import Collector, Merge, Pipe, PipeOfEach
from aircolumn.description.units import quantity
from aircolumn.description.valves import ExhaustValve


class Outlet(Part):
    """What the exhaust pipe opens into."""

    pressure: Pressure | None = None
    temperature: GasTemperature = 600.0


class Silencer(Part):
    """A volume at the end of the exhaust and what it loses: ``pressure_drop`` at the mass flow
    ``flow`` of gas of ``temperature``, and with the flow squared; of the whole engine."""

    volume: Annotated[float, quantity("volume", at_least="0.2 L", at_most="1000 L")]
    pressure_drop: Annotated[float, quantity("pressure", above="0 Pa", at_most="100 kPa")]
    flow: Annotated[float, quantity("mass flow", above="0 g/s", at_most="5 kg/s")]
    temperature: GasTemperature = 673.15


class Exhaust(Part):
    """From the cylinder to the air.

    collector: where primaries meet; merge: where the collectors of several groups meet and go on as
    one pipe (4-2-1); silencer: what the last pipe opens into.
    """

    valve: ExhaustValve
    port: PipeOfEach
    primary: PipeOfEach
    collector: Collector | None = None
    merge: Merge | None = None
    silencer: Silencer | None = None
    outlet: Outlet = Outlet()

    @property
    def gathered(self) -> dict[str, Pipe]:
        """The pipes behind junctions, by their key."""
        pipes = {"collector": self.collector, "merge": self.merge}
        return {name: pipe for name, pipe in pipes.items() if pipe is not None}

    @model_validator(mode="after")
    def _merging(self):
        groups = self.collector and self.collector.groups
        if self.merge is not None and len(groups or []) < 2:
            raise ValueError("a merge needs a collector with two or more groups")
        return self
