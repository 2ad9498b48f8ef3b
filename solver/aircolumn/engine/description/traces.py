"""Keys of the engine file's ``traces`` section: how pressures against crank angle or time were measured."""

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.quantities import Flow
from aircolumn.engine.description.units import quantity

Level = Annotated[float, quantity("pressure", above="1 kPa", at_most="1000 kPa")]
Gain = Annotated[float, quantity("pressure", above="0 Pa", at_most="1000 bar")]


class Pegging(FileModel):
    """What sets the level of a channel that measures changes alone."""

    to: Literal["absolute", "level", "mean", "polytropic"] = Field(
        "absolute",
        description="absolute: as measured; level: a pressure at an angle; mean: the model's mean;"
        " polytropic: compression of the cylinder",
    )
    pressure: Level | None = Field(None, description="of the level")
    at: Annotated[float, quantity("angle", at_least="-360 deg", at_most="720 deg")] | None = Field(
        None, description="crank angle of the level, 0 at firing top dead centre"
    )
    exponent: Annotated[float, plain_number(1.1, 1.5)] = Field(
        1.32,
        description="polytropic, of compression (common practice: 1.30 to 1.35 fired, 1.36 to 1.39 motored)",
    )

    @model_validator(mode="after")
    def _level(self) -> Self:
        if (self.to == "level") != (self.pressure is not None and self.at is not None):
            raise ValueError("a level needs both pressure and at, which go with 'to: level'")
        return self


def _pegging(value: Any) -> Any:
    """``pegged: polytropic`` means the way alone."""
    return {"to": value} if isinstance(value, str) else value


class TraceChannel(FileModel):
    """A pressure transducer: where it is, and how its column is to be read."""

    place: Literal["runner", "port", "plenum", "cylinder", "exhaust"] = Field(
        description="port and exhaust: at the valve"
    )
    distance: Annotated[float, quantity("length", at_least="0 mm", at_most="5 m")] | None = Field(
        None, description="in the runner, from its mouth (a bellmouth not counted)"
    )
    column: str | None = Field(None, description="heading in the file; left out: the channel's name")
    unit: str | None = Field(None, description="of the column, where its heading names none")
    gain: Gain | None = Field(None, description="pressure of one volt, of a column in V or mV")
    zero: Annotated[float, plain_number(-100.0, 100.0)] = Field(
        0.0, description="volts at no pressure, where the level is absolute"
    )
    pegged: Annotated[Pegging, BeforeValidator(_pegging)] = Field(
        Pegging(), description="what sets its level; one word, or a group"
    )

    @model_validator(mode="after")
    def _where(self) -> Self:
        if (self.place == "runner") != (self.distance is not None):
            raise ValueError("distance belongs to place: runner, and a transducer there needs it")
        if self.pegged.to == "polytropic" and self.place != "cylinder":
            raise ValueError("only the cylinder is pegged by its compression")
        return self


class Traces(FileModel):
    """Measured pressures against crank angle, or against time with a mark once a turn."""

    channels: dict[str, TraceChannel] = Field(
        {}, description="transducers by name; left out: by the headings"
    )
    columns: list[str] | None = Field(
        None,
        description="headings, by position, of a file that has none; `p cyl [bar] (60 cycles)`: 60 columns, a"
        " cycle each",
    )
    step: Annotated[float, quantity("angle", above="0 deg", at_most="10 deg")] | None = Field(
        None, description="crank angle from row to row, of a file without one; it begins at 0"
    )
    angle: str | None = Field(None, description="heading of the crank angle; left out: found by its name")
    time: str | None = Field(None, description="heading of the time; left out: found by its name")
    mark: str | None = Field(
        None, description="heading of the once-per-turn mark; left out: found by its name"
    )
    wheel: Annotated[str, Field(pattern=r"^\d{1,3}-\d$")] | None = Field(
        None,
        description="teeth of the mark's wheel and how many are missing, as 60-2; the first tooth after the"
        " gap is at 0 deg",
    )
    top_dead_centre: Annotated[float, quantity("angle", at_least="-360 deg", at_most="360 deg")] = Field(
        0.0, description="what the file's angle, or the mark, shows at top dead centre"
    )
    motored: bool | None = Field(
        None, description="true: without combustion; false: fired; left out: by the cycles"
    )
    mean_air_flow: Flow | None = Field(
        None, description="of the engine at outside air's density, if it was measured"
    )
