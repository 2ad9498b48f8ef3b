"""Keys of the engine file's ``pull`` section: how to read and judge measured pulls."""

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.units import quantity

ChannelName = Literal[
    "pull",
    "time",
    "rpm",
    "torque",
    "power",
    "lambda",
    "air_fuel_ratio",
    "fuel_flow",
    "pulse_width",
    "air_flow",
    "spark",
    "coolant",
    "oil",
    "inlet_air",
    "barometer",
    "humidity",
    "humidity_temperature",
    "throttle",
    "correction",
    "manifold_pressure",
    "manifold_temperature",
]
Statement = Literal["observed", "j1349", "j607", "din70020", "iso1585", "factor"]
Pressure = Annotated[float, quantity("pressure", at_least="50 kPa", at_most="120 kPa")]
Kelvins = Annotated[float, quantity("temperature difference", above="0 K", at_most="50 K")]
Accuracy = Annotated[float, quantity("share", above="0 %", at_most="20 %")]


LONGEST_HEADING = 120  # characters


def _heading(value: str) -> str:
    if isinstance(value, str) and len(value) > LONGEST_HEADING:
        raise ValueError(f"a heading of {len(value)} characters; at most {LONGEST_HEADING}")
    return value


class Column(FileModel):
    """A column of the data file: its heading, and its unit where the heading names none.

    at_lambda_one: of an air-fuel ratio: what the gauge shows at lambda 1. Gauges measure lambda and
    show it times a fixed ratio (mostly 14.7), whatever the fuel; left out, the column is taken as
    kilograms of air to one of fuel.
    """

    name: Annotated[str, BeforeValidator(_heading)] = Field(description="heading in the data file")
    unit: str | None = Field(None, description="of its numbers")
    at_lambda_one: Annotated[float, plain_number(2.0, 40.0)] | None = Field(
        None, description="stoichiometric ratio of a wideband's own scale"
    )


def _column(value: str | dict[str, Any]) -> dict[str, Any]:
    """``rpm: "Engine speed"`` means the heading alone."""
    return {"name": value} if isinstance(value, str) else value


class Bands(FileModel):
    """How far two manifolds' pulls may lie apart and still be like for like."""

    air_fuel_ratio: Annotated[float, plain_number(0.001, 5.0)] = Field(
        0.1, description="largest difference that counts as alike, by mass"
    )
    spark: Annotated[float, quantity("angle", above="0 deg", at_most="20 deg")] = Field(
        0.5, description="largest difference of the advance that counts as alike"
    )
    coolant: Kelvins = Field(5.0, description="largest difference of its temperature that counts as alike")
    oil: Kelvins = Field(8.0, description="largest difference of its temperature that counts as alike")
    inlet_air: Kelvins = Field(3.0, description="largest difference of its temperature that counts as alike")
    barometer: Annotated[float, quantity("pressure", above="0 kPa", at_most="10 kPa")] = Field(
        1e3, description="largest difference that counts as alike"
    )
    sweep_rate: Accuracy = Field(0.1, description="largest relative difference that counts as alike")


class Accuracies(FileModel):
    """Standard uncertainty of what is wrong alike in all pulls: scale of the torque and air-flow
    readings, zero of the barometer. Defaults: common practice, no source."""

    torque: Accuracy = Field(0.005, description="standard uncertainty of the scale")
    air_flow: Accuracy = Field(0.01, description="standard uncertainty of the scale")
    barometer: Annotated[float, quantity("pressure", above="0 kPa", at_most="10 kPa")] = Field(
        300.0, description="standard uncertainty of the zero"
    )


class Wheel(FileModel):
    """Torque measured at the wheels of a chassis dynamometer. ratio: engine speed over the speed at which
    torque acts (gear times final drive; 1 where the log's torque is power over engine speed already); losses:
    of driveline and tyres, as a share of the engine's power; left out, they are not known, and levels are not
    compared."""

    ratio: Annotated[float, plain_number(0.2, 60.0)] = Field(
        1.0, description="engine speed over that of the wheels; 1: the log's torque is for engine speed"
    )
    losses: Annotated[float, quantity("share", at_least="0 %", at_most="50 %")] | None = Field(
        None, description="of driveline and tyres, share of the engine's power; left out: not known"
    )


class Measured(FileModel):
    """How the data files are written and what they were measured in.

    columns: channel to column where guessing from the headings does not do; stated: what torque
    and power in the file were corrected by (observed: not at all); barometer, inlet_air and
    humidity: where the file has no such column; humidity_temperature: of the air in which humidity
    was measured, if that is not the inlet air; altitude of the test site: checks the barometer;
    step: spacing of the engine speeds at which pulls are compared; wheel: of a chassis dynamometer.
    """

    columns: dict[ChannelName, Annotated[Column, BeforeValidator(_column)]] = Field(
        {}, description="headings of the data file by channel, where they do not explain themselves"
    )
    stated: Statement | dict[str, Statement] | None = Field(
        None,
        description="standard that torque and power in the file are corrected to (observed: not at all;"
        " factor: by"
        " the file's own column of factors); for each data file apart: {monday.csv: j607, friday.csv:"
        " observed}",
    )
    barometer: Pressure | None = Field(None, description="where the file has no column of it")
    inlet_air: Annotated[float, quantity("temperature", at_least="-50 degC", at_most="80 degC")] | None = (
        Field(None, description="its temperature, where the file has no column of it")
    )
    humidity: Annotated[float, quantity("share", at_least="0 %", at_most="100 %")] | None = Field(
        None, description="relative, where the file has no column of it"
    )
    humidity_temperature: (
        Annotated[float, quantity("temperature", at_least="-50 degC", at_most="60 degC")] | None
    ) = Field(None, description="of the air that humidity was measured in; left out: the inlet air")
    altitude: Annotated[float, quantity("length", at_least="-500 m", at_most="5000 m")] | None = Field(
        None, description="of the test site, to check the barometer"
    )
    step: Annotated[float, quantity("speed of rotation", at_least="20 rpm", at_most="2000 rpm")] = Field(
        250.0, description="speeds at which pulls are compared"
    )
    wheel: Wheel | None = Field(None, description="torque was measured at the wheels")
    bands: Bands = Field(Bands(), description="by how much channels of two pulls may differ")
    accuracy: Accuracies = Field(Accuracies(), description="of the test cell's instruments")

    def stated_of(self, path: Path) -> Statement | None:
        """What is stated of a data file: by its name, or of all of them."""
        if isinstance(self.stated, dict):
            return self.stated.get(path.name) or self.stated.get(str(path))
        return self.stated

    @model_validator(mode="after")
    def _gauge(self) -> Self:
        for channel, column in self.columns.items():
            if column.at_lambda_one is not None and channel != "air_fuel_ratio":
                raise ValueError(f"at_lambda_one goes with air_fuel_ratio, not with {channel}")
        return self
