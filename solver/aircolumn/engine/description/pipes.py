"""Pipes of the engine file: runner, port, primary, collector, with their walls and mouths."""

from math import pi
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.display_units import said_length
from aircolumn.engine.description.area_schedule import ROUNDEST
from aircolumn.engine.description.base import FileModel, PerCylinder, plain_number, required, whole_number
from aircolumn.engine.description.make import ROUGHNESS, Make
from aircolumn.engine.description.quantities import Bore, Length, Small, WallTemperature
from aircolumn.engine.description.shape import Route, Size, Sizes, cones_of, passage_of, straight_line
from aircolumn.engine.description.units import quantity
from aircolumn.space.passage import Passage

BEND = 1.5  # radius of a bend over the bore; common practice, no source
ENGINE_PIPES = 2.0  # times Colburn's law of steady flow: heat in pipes of engines (duct/walls.py)


class Taper(FileModel):
    """A bore that changes from one end to the other, in flow order for the intake."""

    start: Bore | None = Field(
        default=None, alias="from", description="first bore; left out: as the pipe before ends"
    )
    end: Bore = Field(alias="to", description="last bore")


def _taper(value: str | dict[str, str]) -> dict[str, str]:
    """``bore: 42 mm`` means a straight bore."""
    if isinstance(value, dict):
        return value
    return {"from": value, "to": value}


TaperedBore = Annotated[Taper, BeforeValidator(_taper)]


class Section(FileModel):
    """One piece of a duct."""

    length: Length = Field(description="of the piece")
    bore: TaperedBore = Field(description="one number, or {from, to}")
    bend_angle: Annotated[float, quantity("angle", at_least="0 deg", at_most="360 deg")] = Field(
        0.0, description="by which it turns"
    )
    bend_radius: Length | None = Field(None, description="of the bend's centre line")
    bend_loss: Annotated[float, plain_number(0.0, 10.0)] | None = Field(
        None, description="of the bend, on the dynamic head; left out: by Weisbach's formula"
    )
    perimeter: Length | None = Field(
        None, description="mean, of a piece that is not round and whose bore has the same area"
    )
    bend_width: Length | None = Field(
        None, description="of a piece that is not round, in the plane of its bend; left out: as a square's"
    )

    @model_validator(mode="after")
    def _bend(self) -> Self:
        if (self.bend_angle > 0.0) != (self.bend_radius is not None):
            raise ValueError("a bend needs both bend_angle and bend_radius (of the centre line)")
        if self.bend_loss is not None and self.bend_angle == 0.0:
            raise ValueError("bend_loss belongs to a bend: bend_angle and bend_radius are missing")
        if self.bend_width is not None and (self.bend_angle == 0.0 or self.perimeter is None):
            raise ValueError("bend_width belongs to a bend of a piece with a perimeter")
        start = self.bore.end if self.bore.start is None else self.bore.start
        least = 0.5 * pi * (start + self.bore.end)
        if self.perimeter is not None and self.perimeter < ROUNDEST * least:
            raise ValueError(f"no shape of this area has a perimeter below {said_length(least)}")
        return self


#: Of a section that is made, not read.
_NO_BEND = {"bend_angle": 0.0, "bend_radius": None, "bend_loss": None, "perimeter": None, "bend_width": None}


class Entry(FileModel):
    """The mouth a runner begins with (ends/openings.py).

    radius: of a bellmouth; free: it stands free, no wall around it. wall_thickness: of a plain
    pipe's end.
    """

    shape: Literal["plain", "flanged", "bellmouth"] = Field("flanged", description="how the mouth is made")
    radius: Small | None = Field(None, description="of a bellmouth")
    free: bool = Field(False, description="a bellmouth with no wall around it")
    wall_thickness: Small = Field(0.0015, description="of a plain pipe's end")
    loss: Annotated[float, plain_number(0.0, 5.0)] | None = Field(
        None, description="coefficient on the dynamic head; left out: by shape"
    )
    end_correction: bool = Field(
        True, description="whether the air in front of the mouth moves with the column"
    )

    @model_validator(mode="after")
    def _radius(self) -> Self:
        if (self.shape == "bellmouth") != (self.radius is not None):
            raise ValueError("radius belongs to shape: bellmouth, and a bellmouth needs it")
        if self.free and self.shape != "bellmouth":
            raise ValueError("free belongs to shape: bellmouth (a plain pipe stands free anyway)")
        return self


class Surroundings(FileModel):
    """What cools (or warms) a pipe from outside; the coefficient is on the pipe's inner area."""

    temperature: Annotated[float, quantity("temperature", at_least="-60 degC", at_most="800 degC")] = Field(
        description="around the pipe"
    )
    coefficient: Annotated[
        float, quantity("heat-transfer coefficient", above="0 W/m2/K", at_most="20000 W/m2/K")
    ] = Field(description="of heat transfer, on the pipe's inner area")


class Pipe(FileModel):
    """A runner, port or exhaust pipe: length and bore, or a list of sections (which the reader
    makes of an area_schedule too). A route goes in place of the length, sizes in place of the bore; both are
    computed as sections. friction_factor, heat_factor and bend_factor: multipliers of the steady laws
    (duct/walls.py, duct/bends.py)."""

    length: Length | None = Field(None, description="along the centre line")
    bore: TaperedBore | None = Field(None, description="one number, or {from, to} for a taper in flow order")
    sections: Annotated[list[Section], Field(min_length=1)] | None = Field(
        None, description="list of pieces, in place of length and bore"
    )
    route: Route | None = Field(None, description="centre line in space, in place of length")
    sizes: Sizes | None = Field(
        None, description="list of cross-sections along it, round or not, in place of bore"
    )
    bend_angle: Annotated[float, quantity("angle", at_least="0 deg", at_most="360 deg")] | None = Field(
        None, description="by which the whole pipe turns, spread along it; 0 deg: straight"
    )
    bend_radius: Length | None = Field(None, description="of its bend; left out: 1.5 times the mean bore")
    roughness: Annotated[float, quantity("length", at_least="0 mm", at_most="2 mm")] = Field(
        2e-5, description="of the wall"
    )
    make: Make | None = Field(None, description="how it was made: its roughness, where none is stated")
    wall_temperature: WallTemperature | None = Field(None, description="of the wall (or give surroundings)")
    surroundings: Surroundings | None = Field(
        None,
        description="what cools the wall, which then finds its own temperature; left out with"
        " wall_temperature: usual ones of the place",
    )
    friction_factor: Annotated[float, plain_number(0.0, 10.0)] = Field(
        1.0, description="multiplier of the steady friction law"
    )
    bend_factor: Annotated[float, plain_number(0.0, 10.0)] = Field(
        1.0, description="multiplier of the losses of its bends, but for those stated as bend_loss"
    )
    heat_factor: Annotated[float, plain_number(0.0, 10.0)] = Field(
        ENGINE_PIPES, description="multiplier of the steady heat-transfer law; 0: no heat"
    )

    @property
    def sand_roughness(self) -> float:
        """Of the wall, m: as stated, else by its make, else the default."""
        if self.make is None or "roughness" in self.model_fields_set:
            return self.roughness
        return ROUGHNESS[self.make]

    def wall_values(self) -> dict[str, float]:
        """What the pipe says of its wall, under the names of ``flow.network.declared.Wall``."""
        around = self.surroundings
        outside, coefficient = (around.temperature, around.coefficient) if around else (300.0, 0.0)
        return {
            "friction": self.friction_factor,
            "heat": self.heat_factor,
            "roughness": self.sand_roughness,
            "temperature": outside if self.wall_temperature is None else self.wall_temperature,
            "outside": outside,
            "coefficient": coefficient,
        }

    @property
    def is_drawn(self) -> bool:
        """Whether its sections are those of a route or of sizes."""
        return self.route is not None or self.sizes is not None

    def passage(self, bore_before: float | None = None) -> Passage:
        """Its inside in space; straight where it has no route. Raises ValueError for a list of sections."""
        if self.sections is not None and not self.is_drawn:
            raise ValueError("a list of sections has no place in space; give it a route and sizes")
        line = straight_line(required(self.length)) if self.route is None else self.route.line()
        sizes = self.sizes
        if sizes is None:
            bore = required(self.bore)
            first = required(bore_before) if bore.start is None else bore.start
            sizes = [Size(at="0 %", bore=f"{first!r} m"), Size(at="100 %", bore=f"{bore.end!r} m")]
        return passage_of(line, sizes, None if self.route is None else self.route.width_along)

    def drawn(self) -> Self:
        """With the sections that its route and sizes make. Raises ValueError."""
        rows = []
        for cone in cones_of(self.passage()):
            bore = Taper.model_construct(start=cone.pop("start"), end=cone.pop("end"))
            rows.append(Section.model_construct(**(_NO_BEND | cone), bore=bore))
        return self.changed(sections=rows)

    @property
    def total_length(self) -> float:
        """Length of all sections, m."""
        if self.sections is None:
            return required(self.length)
        return sum(s.length for s in self.sections)

    @property
    def first_bore(self) -> float | None:
        """Bore at the beginning, m; None where the file leaves it open."""
        return (required(self.bore) if self.sections is None else self.sections[0].bore).start

    @property
    def last_bore(self) -> float:
        """Bore at the end, m."""
        return (required(self.bore) if self.sections is None else self.sections[-1].bore).end

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        faults = []
        if None not in (self.wall_temperature, self.surroundings):
            faults.append("give either wall_temperature or surroundings, not both")
        faults += self._wrong_shape() + self._wrong_bend()
        if faults:
            raise ValueError("; ".join(faults))
        if self.is_drawn and self.sections is None:
            self.__dict__["sections"] = self.drawn().sections  # not stated, so not in model_fields_set
        return self

    def _wrong_bend(self) -> list[str]:
        """What is wrong with the bend of the whole pipe."""
        if self.bend_radius is not None and not self.bend_angle:
            return ["bend_radius belongs to a bend: bend_angle is missing"]
        if self.bend_angle is None:
            return []
        if self.route is not None:
            return ["give either bend_angle, or a route, not both"]
        if any(s.bend_angle for s in self.sections or ()):
            return ["give bends either in the sections, or as bend_angle of the whole pipe, not both"]
        return []

    @property
    def is_straight(self) -> bool:
        """Whether the file states no bend of it at all."""
        return (
            self.bend_angle is None
            and self.route is None
            and not any(s.bend_angle for s in self.sections or ())
        )

    def _wrong_shape(self) -> list[str]:
        """Which keys of the shape are missing, or too many."""
        given = [n for n in ("length", "bore", "route", "sizes") if getattr(self, n) is not None]
        if self.sections is not None and "sections" in self.model_fields_set:
            return [f"give either sections, or {' and '.join(given)}, not both"] if given else []
        for one, other in (("route", "length"), ("sizes", "bore")):
            if one in given and other in given:
                return [f"give either {one}, or {other}, not both"]
        missing = []
        if not {"length", "route"} & set(given):
            missing.append("length")
        if not {"bore", "sizes"} & set(given):
            missing.append("bore")
        if missing:
            verb = "is" if len(missing) == 1 else "are"
            return [f"{' and '.join(missing)} {verb} missing (or give a list of sections)"]
        if self.route is not None and self.bore is not None and self.bore.start is None:
            return ["the bore along a route needs both 'from' and 'to' (or one number)"]
        return []


class PipePerCylinder(Pipe, PerCylinder):
    """A pipe that every cylinder has.

    lengths: where the cylinders' pipes differ (all are then computed), one length for each
    cylinder in order of cylinder number.
    """

    lengths: list[Length] | None = Field(None, description="one length for each cylinder, by number")

    @model_validator(mode="before")
    @classmethod
    def _first_length(cls, data: dict[str, Any]) -> dict[str, Any]:
        """``lengths`` says all of them: ``length`` may then be left out."""
        lengths = data.get("lengths") if isinstance(data, dict) else None
        if isinstance(lengths, list) and lengths and not {"length", "sections", "route"} & set(data):
            return {**data, "length": lengths[0]}
        return data

    @model_validator(mode="after")
    def _lengths(self) -> Self:
        if self.lengths is not None and self.sections is not None:
            raise ValueError("lengths goes with length and bore, not with sections, a route or sizes")
        return self

    def of_cylinder(self, number: int) -> Self:
        """The pipe of cylinder ``number`` (1, 2, ...)."""
        own = super().of_cylinder(number)
        if own.lengths is None:
            return own
        return own.changed(length=own.lengths[number - 1], lengths=None)


class Runner(PipePerCylinder):
    """An intake runner with its mouth in the plenum."""

    entry: Entry = Field(Entry(), description="its mouth in the plenum")


class Merge(Pipe):
    """A pipe as which several go on that meet at its beginning; angle: by how much each of them
    turns into it."""

    angle: Annotated[float, quantity("angle", at_least="0 deg", at_most="90 deg")] = Field(
        15.0, description="by which each pipe turns where they meet"
    )


class Collector(Merge):
    """Where primaries meet and go on as one pipe (all cylinders are then computed); groups of
    cylinder numbers, each with a pipe of its own; without groups all cylinders share one."""

    groups: list[list[Annotated[int, whole_number(1, 16)]]] | None = Field(
        None, description="cylinder numbers that share one; left out: all"
    )
