"""Kinds of values that several keys of the engine file share, with their limits."""

from typing import Annotated

from aircolumn.engine.description.units import quantity

Length = Annotated[float, quantity("length", at_least="0.001 mm", at_most="5 m")]
Bore = Annotated[float, quantity("length", at_least="1 mm", at_most="500 mm")]
Small = Annotated[float, quantity("length", at_least="0 mm", at_most="50 mm")]
Volume = Annotated[float, quantity("volume", at_least="0.1 cc", at_most="1000 L")]
Pressure = Annotated[float, quantity("pressure", above="10 kPa", at_most="500 kPa")]
GasTemperature = Annotated[float, quantity("temperature", at_least="-60 degC", at_most="1200 degC")]
WallTemperature = Annotated[float, quantity("temperature", at_least="-60 degC", at_most="1200 degC")]
Speed = Annotated[float, quantity("speed of rotation", at_least="100 rpm", at_most="30000 rpm")]
Degrees = Annotated[float, quantity("angle", at_least="-360 deg", at_most="360 deg")]
CrankAngle = Annotated[float, quantity("angle", at_least="0 deg", at_most="720 deg")]
Flow = Annotated[float, quantity("volume flow", at_least="0.001 L/s", at_most="2000 L/s")]
Share = Annotated[float, quantity("share", at_least="0 %", at_most="100 %")]
