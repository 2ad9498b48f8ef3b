"""The bottom end of the engine file: cylinders, rings, friction."""

from itertools import pairwise
from math import pi
from typing import Annotated, Self

from pydantic import Field, model_validator

from aircolumn.display_units import said_length
from aircolumn.engine.description.base import FileModel, plain_number, whole_number
from aircolumn.engine.description.quantities import Bore, CrankAngle, Length
from aircolumn.engine.description.units import quantity

LEAK = 2e-6  # m, effective area over bore (Rings)
CREVICES = 0.015  # volume over clearance volume (Rings)


class Cylinders(FileModel):
    """The bottom end."""

    cylinders: Annotated[int, whole_number(1, 16)] = Field(description="how many")
    bore: Bore = Field(description="cylinder bore")
    stroke: Bore = Field(description="piston stroke")
    rod: Length = Field(description="connecting rod, centre to centre")
    pin_offset: Annotated[float, quantity("length", at_least="-20 mm", at_most="20 mm")] = Field(
        0.0, description="of the piston pin towards the major thrust side"
    )
    compression_ratio: Annotated[float, plain_number(3.0, 25.0)] = Field(description="geometric")
    firing_order: list[Annotated[int, whole_number(1, 16)]] | None = Field(
        None, description="cylinder numbers as they fire"
    )
    firing_angles: list[CrankAngle] | None = Field(
        None, description="firing top dead centres in firing order, from 0 deg (left out: even)"
    )

    @property
    def clearance(self) -> float:
        """Clearance volume of a cylinder, m3, without pin offset."""
        return 0.25 * pi * self.bore**2 * self.stroke / (self.compression_ratio - 1.0)

    @model_validator(mode="after")
    def _geometry(self) -> Self:
        if self.rod <= 0.5 * self.stroke + abs(self.pin_offset):
            raise ValueError(
                f"rod {said_length(self.rod, 6)} is too short for stroke {said_length(self.stroke, 6)}:"
                " it must be longer than half the stroke plus the pin offset"
            )
        order = self.firing_order
        if order is not None and sorted(order) != list(range(1, self.cylinders + 1)):
            raise ValueError(f"firing_order {order} must name each of the {self.cylinders} cylinders once")
        if self.firing_angles is not None:
            self._check_angles(self.firing_angles)
        return self

    def _check_angles(self, a: list[float]) -> None:
        rising = all(y > x for x, y in pairwise(a))
        if len(a) != self.cylinders or a[0] != 0.0 or not rising or a[-1] >= 720.0:
            raise ValueError(
                "firing_angles must list the firing top dead centres in firing order: one for each"
                " cylinder, from 0 deg, rising, below 720 deg (left out, they are evenly spaced)"
            )


class Rings(FileModel):
    """Blow-by: gas that leaks past the piston rings, as through an orifice for each cylinder into a
    crankcase at ambient pressure. leak_area: its effective area; left out, LEAK times the bore.

    Default: loses about half a per cent of the charge at full load, the low end of what is usual
    (half to two per cent, by an encyclopaedia's account; about 1 % is usual, from memory).

    crevice_volume: what piston, rings and liner leave between them, and all else that no flame enters
    (cylinder/crevices.py); left out, CREVICES of the clearance volume: 1 to 3 % are usual (Heywood 1988,
    section 11.4.3, from memory).
    """

    leak_area: Annotated[float, quantity("area", at_least="0 mm^2", at_most="20 mm^2")] | None = Field(
        None, description="effective area of the leak of a cylinder; left out: by bore"
    )

    crevice_volume: Annotated[float, quantity("volume", at_least="0 mm^3", at_most="100 cm^3")] | None = (
        Field(None, description="of a cylinder's crevices; left out: a share of the clearance volume")
    )

    def crevices(self, clearance: float) -> float:
        """Volume of a cylinder's crevices, m3, with ``clearance`` volume, m3."""
        return CREVICES * clearance if self.crevice_volume is None else self.crevice_volume

    def area(self, bore: float) -> float:
        """Effective area of a cylinder's leak, m2."""
        return LEAK * bore if self.leak_area is None else self.leak_area


class Friction(FileModel):
    """FMEP = constant + peak_pressure p_max + speed Sp + speed_squared Sp^2 (cylinder/friction.py).

    Defaults: of the size measured on motored spark-ignition engines; common practice, no source.
    """

    constant: Annotated[float, quantity("pressure", at_least="0 kPa", at_most="500 kPa")] = Field(
        0.5e5, description="part that does not change with speed or load"
    )
    peak_pressure: Annotated[float, plain_number(0.0, 0.1)] = Field(
        0.005, description="times peak cylinder pressure"
    )
    speed: Annotated[float, quantity("pressure per speed", at_least="0 bar*s/m", at_most="1 bar*s/m")] = (
        Field(0.06e5, description="times mean piston speed")
    )
    speed_squared: Annotated[
        float,
        quantity("pressure per speed squared", at_least="0 bar*s^2/m^2", at_most="0.1 bar*s^2/m^2"),
    ] = Field(0.0008e5, description="times its square")
