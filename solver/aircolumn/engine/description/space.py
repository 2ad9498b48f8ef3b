"""The space a runner must fit in: under the bonnet, beside the block; and where its mouth may be."""

from __future__ import annotations

from typing import Annotated, Self

import numpy as np
from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, required
from aircolumn.engine.description.quantities import Length
from aircolumn.engine.description.shape import Direction, Place, Route
from aircolumn.engine.description.units import quantity
from aircolumn.space.clearance import Box, Limits, Plane
from aircolumn.space.lay import Space


class BoxBetween(FileModel):
    """A box with its sides along x, y and z, by two opposite corners."""

    start: Place = Field(alias="from", description="a corner [x, y, z]")
    end: Place = Field(alias="to", description="the opposite corner [x, y, z]")

    @property
    def box(self) -> Box:
        """With corners in order."""
        corners = np.array([self.start, self.end])
        return Box(corners.min(axis=0), corners.max(axis=0))


class LimitPlane(FileModel):
    """A plane beyond which nothing may lie."""

    through: Place = Field(description="a point of it [x, y, z]")
    normal: Direction = Field(description="direction [x, y, z] in which nothing may lie beyond it")

    @model_validator(mode="after")
    def _points(self) -> Self:
        if not any(self.normal):
            raise ValueError("normal needs a direction other than [0, 0, 0]")
        return self


class PortFlange(FileModel):
    """The face on the head to which the runner is bolted."""

    at: Place = Field(description="its centre [x, y, z]")
    direction: Direction = Field(description="[x, y, z] in which the runner leaves it")

    @model_validator(mode="after")
    def _points(self) -> Self:
        if not any(self.direction):
            raise ValueError("direction needs one other than [0, 0, 0]")
        return self


class SpaceForRunners(FileModel):
    """What is around a runner. x along the crankshaft, z up. With port and mouths every runner that has a
    length and no route is laid within it: straight, or with one or two bends."""

    port: PortFlange | None = Field(None, description="the face on the head the runner is bolted to")
    mouths: BoxBetween | None = Field(None, description="box in which the centre of its mouth may lie")
    mouth_direction: Direction | None = Field(
        None, description="[x, y, z] in which the mouth looks, into the plenum, within 15 deg; left out: any"
    )
    least_bend_radius: Length | None = Field(
        None, description="of the centre line, when laid; left out: as large as the runner's bore"
    )
    spacing: Annotated[float, quantity("length", above="0 mm", at_most="1 m")] | None = Field(
        None, description="from runner to runner of a bank, along x; left out: a runner alone"
    )
    clearance: Annotated[float, quantity("length", at_least="0 mm", at_most="200 mm")] = Field(
        0.005, description="to be kept from outside to outside"
    )
    planes: dict[str, LimitPlane] = Field({}, description="by name: a bonnet, a bulkhead")
    boxes: dict[str, BoxBetween] = Field({}, description="by name: what is in the way")

    @model_validator(mode="after")
    def _together(self) -> Self:
        if (self.port is None) != (self.mouths is None):
            missing = "port" if self.port is None else "mouths"
            raise ValueError(f"{missing} is missing: runners are laid from port to mouths")
        if self.mouth_direction is not None and not any(self.mouth_direction):
            raise ValueError("mouth_direction needs a direction other than [0, 0, 0]")
        both = sorted(set(self.planes) & set(self.boxes))
        if both:
            raise ValueError(f"a plane and a box are called '{both[0][:40]}'")
        if self.port is not None and self.spacing is not None and not any(self.port.direction[1:]):
            raise ValueError("runners of a bank that leave along the crankshaft run into each other")
        return self

    @property
    def lays(self) -> bool:
        """Whether runners without a route are laid within it."""
        return self.port is not None

    def limits(self, wall: float) -> Limits:
        """What is to be kept clear of; wall: of the runner, m."""
        things: dict[str, Plane | Box] = {
            name: Plane(np.array(p.through), np.array(p.normal)) for name, p in self.planes.items()
        }
        things |= {name: b.box for name, b in self.boxes.items()}
        spacing = None if self.spacing is None else np.array([self.spacing, 0.0, 0.0])
        return Limits(things, self.clearance, wall, spacing)

    def for_runner(self, bore: float, wall: float) -> Space:
        """Where a runner of this bore and wall (m) may be laid."""
        port = required(self.port)
        least = self.least_bend_radius or bore
        mouths, limits = required(self.mouths).box, self.limits(wall)
        looks = None if self.mouth_direction is None else np.array(self.mouth_direction)
        return Space(np.array(port.at), np.array(port.direction), mouths, least, limits, looks)


def laid_route(corners: np.ndarray, radii: np.ndarray) -> Route:
    """A route of the file from one that was laid, m."""
    return Route.model_construct(
        points=corners.tolist(), bend_radius=radii.tolist() or None, curve="bends", width_along=None
    )
