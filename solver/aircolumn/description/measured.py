"""Keys of the engine file's ``pull`` section: how to read and judge measured pulls."""

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.description.parts import Part, plain_number
from aircolumn.description.units import quantity

ChannelName = Literal[
    "pull", "time", "rpm", "torque", "power", "lambda", "air_fuel_ratio", "fuel_flow", "air_flow",
    "spark", "coolant", "oil", "inlet_air", "barometer", "humidity", "humidity_temperature",
    "throttle",
]  # fmt: skip
Pressure = Annotated[float, quantity("pressure", at_least="50 kPa", at_most="120 kPa")]
Kelvins = Annotated[float, quantity("temperature difference", above="0 K", at_most="50 K")]
Accuracy = Annotated[float, quantity("share", above="0 %", at_most="20 %")]


LONGEST_HEADING = 120  # characters


def _heading(value):
    if isinstance(value, str) and len(value) > LONGEST_HEADING:
        raise ValueError(f"a heading of {len(value)} characters; at most {LONGEST_HEADING}")
    return value


class Column(Part):
    """A column of the data file: its heading, and its unit where the heading names none.

    at_lambda_one: of an air-fuel ratio: what the gauge shows at lambda 1. Gauges measure lambda and
    show it times a fixed ratio (mostly 14.7), whatever the fuel; left out, the column is taken as
    kilograms of air to one of fuel.
    """

    name: Annotated[str, BeforeValidator(_heading)]
    unit: str | None = None
    at_lambda_one: Annotated[float, plain_number(2.0, 40.0)] | None = None


def _column(value):
    """``rpm: "Engine speed"`` means the heading alone."""
    return {"name": value} if isinstance(value, str) else value


class Bands(Part):
    """How far two manifolds' pulls may lie apart and still be like for like."""

    air_fuel_ratio: Annotated[float, plain_number(0.001, 5.0)] = 0.1
    spark: Annotated[float, quantity("angle", above="0 deg", at_most="20 deg")] = 0.5
    coolant: Kelvins = 5.0
    oil: Kelvins = 8.0
    inlet_air: Kelvins = 3.0
    barometer: Annotated[float, quantity("pressure", above="0 kPa", at_most="10 kPa")] = 1e3
    sweep_rate: Accuracy = 0.1


class Accuracies(Part):
    """Standard uncertainty of what is wrong alike in all pulls: scale of the torque and air-flow
    readings, zero of the barometer. Defaults: common practice, no source."""

    torque: Accuracy = 0.005
    air_flow: Accuracy = 0.01
    barometer: Annotated[float, quantity("pressure", above="0 kPa", at_most="10 kPa")] = 300.0


class Measured(Part):
    """How the data files are written and what they were measured in.

    columns: channel to column where guessing from the headings does not do; stated: what torque
    and power in the file were corrected by (observed: not at all); barometer, inlet_air and
    humidity: where the file has no such column; humidity_temperature: of the air in which humidity
    was measured, if that is not the inlet air; altitude of the test site: checks the barometer;
    step: spacing of the engine speeds at which pulls are compared.
    """

    columns: dict[ChannelName, Annotated[Column, BeforeValidator(_column)]] = Field({})
    stated: Literal["observed", "j1349", "j607", "din70020", "iso1585"] | None = None
    barometer: Pressure | None = None
    inlet_air: (
        Annotated[float, quantity("temperature", at_least="-50 degC", at_most="80 degC")] | None
    ) = None
    humidity: Annotated[float, quantity("share", at_least="0 %", at_most="100 %")] | None = None
    humidity_temperature: (
        Annotated[float, quantity("temperature", at_least="-50 degC", at_most="60 degC")] | None
    ) = None
    altitude: Annotated[float, quantity("length", at_least="-500 m", at_most="5000 m")] | None = (
        None
    )
    step: Annotated[float, quantity("speed of rotation", at_least="20 rpm", at_most="2000 rpm")] = (
        250.0
    )
    bands: Bands = Bands()
    accuracy: Accuracies = Accuracies()

    @model_validator(mode="after")
    def _gauge(self):
        for channel, column in self.columns.items():
            if column.at_lambda_one is not None and channel != "air_fuel_ratio":
                raise ValueError(f"at_lambda_one goes with air_fuel_ratio, not with {channel}")
        return self
