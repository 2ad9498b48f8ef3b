"""The plenum of the engine file: a volume, or a log that is a duct of its own."""

from itertools import pairwise
from typing import Annotated, Self

from pydantic import Field, model_validator

from aircolumn.display_units import said_length
from aircolumn.engine.description.base import FileModel, required
from aircolumn.engine.description.pipes import Pipe, Taper
from aircolumn.engine.description.quantities import Length, Volume
from aircolumn.engine.description.units import quantity

NEAREST = 0.01  # m, between runners of different places, and from the log's ends


class Log(Pipe):
    """A long plenum, fed through the throttle at its beginning and shut at its end.

    runners_at: how far from its beginning each cylinder's runner joins, by cylinder number;
    runner_angle: by how much air from the throttle turns into a runner (90 deg: square to the log).
    """

    runners_at: Annotated[list[Length], Field(min_length=1)] = Field(
        description="where each cylinder's runner joins, from the throttle on"
    )
    runner_angle: Annotated[float, quantity("angle", at_least="30 deg", at_most="150 deg")] = Field(
        90.0, description="by how much air turns into a runner; 90 deg: square to the log"
    )

    @property
    def places(self) -> list[float]:
        """Where runners join, in order along the log, m."""
        return sorted(set(self.runners_at))

    def bore_at(self, place: float) -> float:
        """Bore at a distance from the beginning, m."""
        begin, before = 0.0, required(self.first_bore)
        for length, bore in self._cones():
            first = before if bore.start is None else bore.start
            if place <= begin + length:
                return first + (bore.end - first) * (place - begin) / length
            begin, before = begin + length, bore.end
        return before

    def _cones(self) -> list[tuple[float, Taper]]:
        if self.sections is None:
            return [(required(self.length), required(self.bore))]
        return [(s.length, s.bore) for s in self.sections]

    @model_validator(mode="after")
    def _within(self) -> Self:
        if self.first_bore is None:
            raise ValueError("the log's bore needs both 'from' and 'to' (or one number)")
        stops = [0.0, *self.places, self.total_length]
        if any(b - a < NEAREST for a, b in pairwise(stops)):
            raise ValueError(
                f"runners_at must lie between the log's ends (0 and {said_length(stops[-1], 6)}),"
                f" {said_length(NEAREST, 6)} or more from them and from each other, or at one place"
            )
        return self


class Plenum(FileModel):
    """Plenum of the whole engine: a volume with one pressure, or a log."""

    volume: Volume | None = Field(None, description="of one pressure")
    log: Log | None = Field(None, description="a plenum with length, in the volume's place")

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.volume is None) == (self.log is None):
            raise ValueError("give either the plenum's volume, or a log")
        return self
