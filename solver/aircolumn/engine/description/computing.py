"""What is computed and how: engine speeds, mesh and step."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number, whole_number
from aircolumn.engine.description.quantities import Speed
from aircolumn.engine.description.units import quantity
from aircolumn.engine.description.use import Use

#: Tolerance over accuracy: at 5e-4 VE is within 0.02 % of the cycle that repeats exactly, at 2.5e-3 within
#: 0.05 %.
REPEATS = 0.5


class Speeds(FileModel):
    """Engine speeds to compute, and the range that matters to the user.

    locate_within: speeds are added until humps, dips and crossings of curves are located within
    this (curves/locate.py; 0: none are), most_added of them at most.
    """

    start: Speed = Field(default=1500.0, alias="from", description="lowest")
    stop: Speed = Field(default=6000.0, alias="to", description="highest")
    step: Annotated[float, quantity("speed of rotation", above="0 rpm", at_most="10000 rpm")] = Field(
        500.0, description="spacing of the speeds"
    )
    locate_within: Annotated[float, quantity("speed of rotation", at_least="0 rpm", at_most="500 rpm")] = (
        Field(25.0, description="speeds are added until humps and crossings are located so well; 0: none")
    )
    most_added: Annotated[int, whole_number(0, 500)] = Field(40, description="how many speeds may be added")
    interest_from: Speed | None = Field(None, description="where the range that matters begins")
    interest_to: Speed | None = Field(None, description="where it ends")
    use: Use | None = Field(None, description="how much each speed matters, in place of those two")

    @model_validator(mode="after")
    def _order(self) -> Self:
        if self.stop < self.start:
            raise ValueError("'to' must not be below 'from'")
        if (self.stop - self.start) / self.step > 1000:
            raise ValueError("more than 1000 speeds: make the step larger")
        low, high = self.interest_from, self.interest_to
        if (low is None) != (high is None):
            raise ValueError("interest_from and interest_to belong together")
        if self.use is not None and low is not None:
            raise ValueError("give either use, or interest_from and interest_to")
        if low is not None and high is not None and not self.start <= low < high <= self.stop:
            raise ValueError("the range that matters must lie within 'from' and 'to'")
        return self


class Numerics(FileModel):
    """Mesh and step. Cells left out go with the size of the cylinder (see Engine.cells); where many points
    are computed, they are as long as ``accuracy`` allows (curves/accuracy.py)."""

    accuracy: Annotated[float, quantity("share", at_least="0.01 %", at_most="2 %")] = Field(
        0.001,
        description="of VE and torque: how far they may be from what much finer cells would give; curves, "
        "maps and studies choose their cells by it, shorter than usual only if it is stated",
    )
    cell_scale: Annotated[float, plain_number(0.1, 8.0)] | None = Field(
        None, description="length of all cells over the usual length; left out: by accuracy"
    )
    intake_cell: Annotated[float, quantity("length", at_least="1 mm", at_most="100 mm")] | None = Field(
        None, description="length; left out: by the size of the cylinder"
    )
    exhaust_cell: Annotated[float, quantity("length", at_least="1 mm", at_most="200 mm")] | None = Field(
        None, description="length; left out: by the size of the cylinder"
    )
    courant: Annotated[float, plain_number(0.1, 1.0)] = Field(0.9, description="Courant number aimed at")
    method: Literal["conservative", "mesh"] = Field(
        "conservative", description="conservative, or the classical mesh method, which is not"
    )
    repeat_within: Annotated[float, plain_number(1e-6, 0.01)] = Field(
        0.0005,
        description="tolerance by which cycles must repeat; left out, it goes with the accuracy where that "
        "chooses the cells",
    )
    most_cycles: Annotated[int, whole_number(3, 500)] = Field(
        300, description="after which a point counts as not computed"
    )

    @property
    def states_cells(self) -> bool:
        """Whether the file says how long cells are, or asks for the mesh method, whose error is another."""
        return bool(self.cell_scale or self.intake_cell or self.exhaust_cell) or self.method == "mesh"

    @property
    def states_accuracy(self) -> bool:
        """Whether the file says how accurate results are to be."""
        return "accuracy" in self.model_fields_set

    def with_cells(self, scale: float, accuracy: float) -> Self:
        """Cells of ``scale`` times the usual length, and the tolerance that goes with an accuracy, unless
        one is stated."""
        if "repeat_within" in self.model_fields_set:
            return self.changed(cell_scale=scale)
        return self.changed(cell_scale=scale, repeat_within=REPEATS * accuracy)
