"""Pipes of the engine file: runner, port, primary, collector, with their walls and mouths."""

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.description.kinds import Bore, Length, Small, WallTemperature
from aircolumn.description.parts import OfEach, Part, given, plain_number, whole_number
from aircolumn.description.units import quantity

ENGINE_PIPES = 2.0  # times Colburn's law of steady flow: heat in pipes of engines (duct/walls.py)


class Taper(Part):
    """A bore that changes from one end to the other, in flow order for the intake."""

    start: Bore | None = Field(default=None, alias="from")
    end: Bore = Field(alias="to")


def _taper(value):
    """``bore: 42 mm`` means a straight bore."""
    if isinstance(value, dict):
        return value
    return {"from": value, "to": value}


TaperedBore = Annotated[Taper, BeforeValidator(_taper)]


class Section(Part):
    """One piece of a duct."""

    length: Length
    bore: TaperedBore
    bend_angle: Annotated[float, quantity("angle", at_least="0 deg", at_most="360 deg")] = 0.0
    bend_radius: Length | None = None

    @model_validator(mode="after")
    def _bend(self):
        if (self.bend_angle > 0.0) != (self.bend_radius is not None):
            raise ValueError("a bend needs both bend_angle and bend_radius (of the centre line)")
        return self


class Entry(Part):
    """The mouth a runner begins with (ends/openings.py).

    radius: of a bellmouth; free: it stands free, no wall around it. wall_thickness: of a plain
    pipe's end.
    """

    shape: Literal["plain", "flanged", "bellmouth"] = "flanged"
    radius: Small | None = None
    free: bool = False
    wall_thickness: Small = 0.0015
    loss: Annotated[float, plain_number(0.0, 5.0)] | None = None
    end_correction: bool = True

    @model_validator(mode="after")
    def _radius(self):
        if (self.shape == "bellmouth") != (self.radius is not None):
            raise ValueError("radius belongs to shape: bellmouth, and a bellmouth needs it")
        if self.free and self.shape != "bellmouth":
            raise ValueError("free belongs to shape: bellmouth (a plain pipe stands free anyway)")
        return self


class Surroundings(Part):
    """What cools (or warms) a pipe from outside; the coefficient is on the pipe's inner area."""

    temperature: Annotated[float, quantity("temperature", at_least="-60 degC", at_most="800 degC")]
    coefficient: Annotated[
        float, quantity("heat-transfer coefficient", above="0 W/m2/K", at_most="20000 W/m2/K")
    ]


class Pipe(Part):
    """A runner, port or exhaust pipe: length and bore, or a list of sections (which the reader
    makes of an area_schedule too); friction_factor and heat_factor: multipliers of the steady laws
    (duct/walls.py)."""

    length: Length | None = None
    bore: TaperedBore | None = None
    sections: Annotated[list[Section], Field(min_length=1)] | None = None
    roughness: Annotated[float, quantity("length", at_least="0 mm", at_most="2 mm")] = 2e-5
    wall_temperature: WallTemperature | None = None
    surroundings: Surroundings | None = None
    friction_factor: Annotated[float, plain_number(0.0, 10.0)] = 1.0
    heat_factor: Annotated[float, plain_number(0.0, 10.0)] = ENGINE_PIPES

    @property
    def total_length(self) -> float:
        """Length of all sections, m."""
        if self.sections is None:
            return given(self.length)
        return sum(s.length for s in self.sections)

    @property
    def first_bore(self) -> float | None:
        """Bore at the beginning, m; None where the file leaves it open."""
        return (given(self.bore) if self.sections is None else self.sections[0].bore).start

    @property
    def last_bore(self) -> float:
        """Bore at the end, m."""
        return (given(self.bore) if self.sections is None else self.sections[-1].bore).end

    @model_validator(mode="after")
    def _one_way(self):
        faults = []
        told = [self.wall_temperature, self.surroundings]
        if None not in told:
            faults.append("give either wall_temperature or surroundings, not both")
        if told == [None, None] and self.heat_factor > 0.0:  # heat transfer rests on it: no default
            faults.append("wall_temperature is missing (or give surroundings, or heat_factor: 0 for"
                          " an adiabatic wall)")  # fmt: skip
        simple = self.length is not None and self.bore is not None
        partly = self.length is not None or self.bore is not None
        if self.sections is not None and partly:
            faults.append("give either sections, or length and bore, not both")
        if self.sections is None and not simple:
            missing = [n for n in ("length", "bore") if getattr(self, n) is None]
            verb = "is" if len(missing) == 1 else "are"
            faults.append(f"{' and '.join(missing)} {verb} missing (or give a list of sections)")
        if faults:
            raise ValueError("; ".join(faults))
        return self


class PipeOfEach(Pipe, OfEach):
    """A pipe that every cylinder has.

    lengths: where the cylinders' pipes differ (all are then computed), one length for each
    cylinder in order of cylinder number.
    """

    lengths: list[Length] | None = None

    @model_validator(mode="before")
    @classmethod
    def _first_length(cls, data):
        """``lengths`` says all of them: ``length`` may then be left out."""
        lengths = data.get("lengths") if isinstance(data, dict) else None
        if isinstance(lengths, list) and lengths and not {"length", "sections"} & set(data):
            return {**data, "length": lengths[0]}
        return data

    @model_validator(mode="after")
    def _lengths(self):
        if self.lengths is not None and self.sections is not None:
            raise ValueError("lengths goes with length and bore, not with sections")
        return self

    def of_cylinder(self, number: int) -> Self:
        """The pipe of cylinder ``number`` (1, 2, ...)."""
        own = super().of_cylinder(number)
        if own.lengths is None:
            return own
        return own.changed(length=own.lengths[number - 1], lengths=None)


class Runner(PipeOfEach):
    """An intake runner with its mouth in the plenum."""

    entry: Entry = Entry()


class Merge(Pipe):
    """A pipe as which several go on that meet at its beginning; angle: by how much each of them
    turns into it."""

    angle: Annotated[float, quantity("angle", at_least="0 deg", at_most="90 deg")] = 15.0


class Collector(Merge):
    """Where primaries meet and go on as one pipe (all cylinders are then computed); groups of
    cylinder numbers, each with a pipe of its own; without groups all cylinders share one."""

    groups: list[list[Annotated[int, whole_number(1, 16)]]] | None = None
