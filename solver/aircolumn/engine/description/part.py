"""How a runner is to be made: wall, flanges, joints, the bed it must fit on."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.quantities import Bore, Length
from aircolumn.engine.description.units import quantity

Density = Annotated[float, quantity("density", at_least="100 kg/m3", at_most="20000 kg/m3")]
Side = Annotated[float, quantity("length", at_least="-500 mm", at_most="500 mm")]
Thickness = Annotated[float, quantity("length", at_least="0.5 mm", at_most="50 mm")]


class Flange(FileModel):
    """A plate at an end of the runner, square to it. Sizes along the width and the height of the section
    there; bolts: centres of their holes, from the centre of the bore."""

    thickness: Thickness = Field(description="of the plate")
    width: Bore = Field(description="of the plate")
    height: Bore = Field(description="of the plate")
    corner_radius: Annotated[float, quantity("length", at_least="0 mm", at_most="250 mm")] = Field(
        0.005, description="of the plate"
    )
    bolts: list[Annotated[list[Side], Field(min_length=2, max_length=2)]] = Field(
        [], max_length=24, description="list of [along the width, along the height], from the bore's centre"
    )
    bolt_hole: Length = Field(0.0084, description="diameter of the holes")

    @model_validator(mode="after")
    def _inside(self) -> Self:
        for k, (x, y) in enumerate(self.bolts, 1):
            if abs(x) > 0.5 * (self.width - self.bolt_hole) or abs(y) > 0.5 * (self.height - self.bolt_hole):
                raise ValueError(f"the hole of bolt {k} is not within the flange")
        if self.corner_radius > 0.5 * min(self.width, self.height):
            raise ValueError("corner_radius can be half of the smaller side at most")
        return self


class Joint(FileModel):
    """How two pieces of a runner are joined: spigot: one stands in the other, to be bonded; o_ring: the same
    with a groove for a cord; flange: two bolted plates."""

    kind: Literal["spigot", "o_ring", "flange"] = Field("spigot", description="how pieces are joined")
    length: Annotated[float, quantity("length", at_least="3 mm", at_most="100 mm")] = Field(
        0.015, description="that one piece stands in the other"
    )
    gap: Annotated[float, quantity("length", at_least="0 mm", at_most="2 mm")] = Field(
        0.00015, description="between the two all round"
    )
    cord: Annotated[float, quantity("length", at_least="1 mm", at_most="10 mm")] = Field(
        0.0026, description="diameter of the O-ring's cord"
    )
    bolt_hole: Length = Field(0.0055, description="diameter of the flanges' holes, one at each corner")
    thickness: Thickness = Field(0.006, description="of each of the two flanges")


class PlenumBox(FileModel):
    """The plenum as a box, or as its log, on the runners' mouths. Its volume is that of the engine."""

    height: Bore | None = Field(
        None, description="inside, across the runners; left out: as deep as it is high"
    )
    margin: Annotated[float, quantity("length", at_least="0 mm", at_most="200 mm")] = Field(
        0.015, description="inside, from the outer runners to its ends"
    )
    throttle_flange: Flange | None = Field(None, description="at the end where the throttle is bolted")


class Part(FileModel):
    """How the runner is made."""

    wall: Annotated[float, quantity("length", at_least="0.3 mm", at_most="50 mm")] = Field(
        0.003, description="thickness"
    )
    density: Density | None = Field(
        None, description="of what it is made of, for its mass; left out: no mass is told"
    )
    port_flange: Flange | None = Field(None, description="at the head; left out: none")
    plenum_flange: Flange | None = Field(None, description="at the mouth; left out: none")
    joint: Joint = Field(Joint(), description="between the pieces that a part is split into")
    bed: (
        Annotated[
            list[Annotated[float, quantity("length", at_least="20 mm", at_most="5 m")]],
            Field(min_length=3, max_length=3),
        ]
        | None
    ) = Field(None, description="[x, y, z] of the printer: larger parts are split; left out: one piece")
    plenum: PlenumBox = Field(PlenumBox(), description="of a whole manifold")
    allowance: Annotated[float, plain_number(0.8, 1.2)] = Field(
        1.0, description="factor on all sizes of the files, for shrinkage of a mould or a print"
    )
