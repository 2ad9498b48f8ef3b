"""How the charge burns, and the heat the cylinder loses."""

from typing import Annotated, Literal

from pydantic import Field

from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.quantities import Speed, WallTemperature
from aircolumn.engine.description.units import Checked, quantity


def _phasing(value: str) -> float | None:
    """An angle, or None for 'best'."""
    return None if value == "best" else _PHASING.check(value)


_PHASING = quantity("angle", at_least="-20 deg", at_most="60 deg")
_TEXT = f"{_PHASING.schema['description']}, or best"


class Combustion(FileModel):
    """Burn phasing of the Wiebe law.

    ca50: an angle, or ``best``: the one with most torque is searched for at every speed. The burn
    takes duration_10_90 x (rpm / reference_speed)^speed_exponent x slowness^mixture_exponent x (1 +
    residual_factor x residual share of the charge); slowness: burning velocity at lambda 0.9 over that
    of the mixture (flow/cylinder/burn.py). reference_speed left out: where the mean piston speed is 9
    m/s. efficiency: of the heat that the oxygen
    there is could release; oil films, deposits and quenching at walls keep 1 to 2 % of it (Cheng et al., SAE
    932708, from memory); what crevices hide comes on top (rings.crevice_volume).
    """

    ca50: Annotated[float | None, Checked(_phasing, {"type": "string", "description": _TEXT}, "angle")] = (
        Field(8.0, description="angle at which half is burned, or `best`: most torque at every speed")
    )
    duration_10_90: Annotated[float, quantity("angle", at_least="0.1 deg", at_most="120 deg")] = Field(
        25.0, description="from 10 to 90 % burned, at reference_speed"
    )
    ca50_scatter: Annotated[float, quantity("angle", at_least="0 deg", at_most="15 deg")] = Field(
        3.0, description="standard deviation of ca50 from cycle to cycle"
    )
    reference_speed: Speed | None = Field(None, description="to which the duration belongs")
    speed_exponent: Annotated[float, plain_number(0.0, 1.5)] = Field(
        0.3, description="of (rpm / reference_speed) on the duration"
    )
    mixture_exponent: Annotated[float, plain_number(0.0, 1.5)] = Field(
        0.5, description="of the mixture's slowness on the duration"
    )
    residual_factor: Annotated[float, plain_number(0.0, 10.0)] = Field(
        0.0, description="by how much residual gas lengthens the burn"
    )
    form: Annotated[float, plain_number(0.1, 6.0)] = Field(2.0, description="exponent of the Wiebe law")
    zones: Literal[1, 2] = Field(
        2, description="burned and unburned gas apart while the charge burns (2), or mixed (1)"
    )
    efficiency: Annotated[float, plain_number(0.5, 1.0)] = Field(
        0.985, description="share of the heat that is released, crevices (rings) apart"
    )


class CylinderWalls(FileModel):
    """Cylinder heat transfer; factor: multiplier of the law, exchange_factor: another one while a
    valve is open."""

    model: Literal["woschni", "annand", "hohenberg", "adiabatic"] = Field(
        "woschni", description="law of the heat-transfer coefficient"
    )
    factor: Annotated[float, plain_number(0.0, 5.0)] = Field(
        1.0, description="multiplier of it with valves shut"
    )
    exchange_factor: Annotated[float, plain_number(0.0, 5.0)] = Field(
        1.0, description="multiplier of it with a valve open"
    )
    head: WallTemperature = Field(470.0, description="wall temperature of the cylinder head")
    piston: WallTemperature = Field(500.0, description="wall temperature of the piston crown")
    liner: WallTemperature = Field(410.0, description="wall temperature of the liner")
