"""From the air to the cylinder, as the engine file describes it."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from aircolumn.constants import ATMOSPHERE
from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.inlet import Inlet, check_order
from aircolumn.engine.description.pipes import PipePerCylinder, Runner
from aircolumn.engine.description.plenum import Log, Plenum
from aircolumn.engine.description.quantities import Bore, Share
from aircolumn.engine.description.supply import AirState, Supply
from aircolumn.engine.description.surrounded import surround
from aircolumn.engine.description.units import quantity
from aircolumn.engine.description.valves import IntakeValve


class Ambient(FileModel):
    """Air outside."""

    pressure: Annotated[float, quantity("pressure", at_least="50 kPa", at_most="120 kPa")] = Field(
        ATMOSPHERE, description="barometer, as measured on the day (not reduced to sea level)"
    )
    temperature: Annotated[float, quantity("temperature", at_least="-50 degC", at_most="60 degC")] = Field(
        298.15, description="of the inlet air"
    )
    humidity: Share = Field(0.0, description="relative")


class Throttle(FileModel):
    """Butterfly throttle between air and plenum, for the whole engine."""

    bore: Bore = Field(description="of the throttle body")
    shaft: Annotated[float, quantity("length", at_least="0 mm", at_most="30 mm")] = Field(
        0.01, description="diameter"
    )
    angle: Annotated[float, quantity("angle", above="0 deg", at_most="90 deg")] = Field(
        90.0, description="of the blade, 90 deg: wide open"
    )
    closed_angle: Annotated[float, quantity("angle", at_least="0 deg", at_most="30 deg")] = Field(
        0.0, description="of the blade when it closes the bore"
    )
    discharge_coefficient: Annotated[float, plain_number(0.1, 1.0)] = Field(
        0.85, description="on the open area"
    )

    @model_validator(mode="after")
    def _open(self) -> Self:
        if self.shaft >= self.bore:
            raise ValueError("the shaft fills the bore: it must be thinner")
        if self.closed_angle >= self.angle:
            raise ValueError("angle must be greater than closed_angle, where the blade shuts the bore")
        return self


class Intake(FileModel):
    """From the air to the cylinder; without throttle and plenum the runners draw from open air.

    inlet: what the air passes before the throttle, in order; left out, open air. supply: the state
    of the air that is fed to it, as by a compressor; left out, the open air's.
    """

    ambient: Ambient = Field(Ambient(), description="the air outside, to which VE is referred")
    supply: Supply | None = Field(None, description="air fed at a state of its own, as by a compressor")
    inlet: Inlet | None = Field(None, description="list of what stands ahead of the throttle, in order")
    throttle: Throttle | None = Field(
        None, description="butterfly for the whole engine; left out with the plenum: open air"
    )
    plenum: Plenum | None = Field(None, description="what the runners draw from")
    runner: Runner = Field(description="intake runner; candidates under `runners` change its keys")
    port: PipePerCylinder = Field(description="intake port in the head")
    valve: IntakeValve = Field(description="intake valves of a cylinder")

    @property
    def source(self) -> AirState:
        """State of the air that comes in (of a supply by speed: at the first; see Supply.at)."""
        if self.supply is not None:
            return self.supply.source
        return AirState(self.ambient.pressure, self.ambient.temperature)

    @property
    def log(self) -> Log | None:
        """The plenum, where it is a log."""
        return None if self.plenum is None else self.plenum.log

    @model_validator(mode="after")
    def _space(self) -> Self:
        if (self.throttle is None) != (self.plenum is None):
            missing = "throttle" if self.throttle is None else "plenum"
            raise ValueError(f"{missing} is missing (or leave out both: the runners then draw from open air)")
        if self.inlet is not None:
            if self.throttle is None:
                raise ValueError("an inlet leads to a throttle and a plenum: both are missing")
            check_order(self.inlet)
        return self

    @model_validator(mode="after")
    def _walls(self) -> Self:
        surround(self.runner, "intake.runner")
        surround(self.port, "intake.port")
        surround(self.log, "intake.plenum.log")
        for one in self.inlet or ():
            surround(one.pipe, "intake.inlet")
        return self
