"""Where the engine lives: which engine speeds matter, and how much."""

import itertools
from collections.abc import Iterator
from typing import Annotated, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number, required
from aircolumn.engine.description.quantities import Speed
from aircolumn.engine.description.units import quantity

Weight = Annotated[float, plain_number(0.0, 1e9)]
Ratio = Annotated[float, plain_number(0.05, 50.0)]


class UseRange(FileModel):
    """Engine speeds that count alike."""

    start: Speed = Field(alias="from", description="lowest")
    stop: Speed = Field(alias="to", description="highest")
    weight: Weight = Field(1.0, description="of every speed in it, beside that of other ranges")

    @model_validator(mode="after")
    def _order(self) -> Self:
        if self.stop <= self.start:
            raise ValueError("'to' must be above 'from'")
        return self


class Gears(FileModel):
    """Acceleration through the gears at full load.

    In gear i the engine turns from where the shift before left it, shift_at times the step of the ratios, to
    shift_at. How long it stays at a speed follows from Newton's law with a constant torque T and a constant
    resistance R at the wheels (slope, rolling): dt/dn ~ 1/(i (i - load i_last)), load being what R takes of
    T in the last gear.
    """

    ratios: list[Ratio] = Field(description="of the gears, lowest gear first")
    shift_at: Speed = Field(description="engine speed at which one shifts up")
    start: Speed | None = Field(
        None, alias="from", description="engine speed in the lowest gear; left out: as after a shift"
    )
    load: Annotated[float, quantity("share", at_least="0 %", at_most="95 %")] = Field(
        0.0, description="of the torque in the last gear that slope and rolling resistance take"
    )

    @model_validator(mode="after")
    def _falling(self) -> Self:
        steps = zip(self.ratios, self.ratios[1:], strict=False)
        if len(self.ratios) < 2 or not all(b < a for a, b in steps):
            raise ValueError("ratios: two or more, each smaller than the one before")
        if self.start is not None and self.start >= self.shift_at:
            raise ValueError("'from' must be below shift_at")
        return self

    def ranges(self) -> Iterator[tuple[float, float, float]]:
        """(from, to, weight) of every gear."""
        load = self.load * self.ratios[-1]
        steps = [b / a for a, b in zip(self.ratios, self.ratios[1:], strict=False)]
        begins = [self.shift_at * step for step in (steps[0], *steps)]
        begins[0] = begins[0] if self.start is None else self.start
        for ratio, begin in zip(self.ratios, begins, strict=True):
            yield begin, self.shift_at, 1.0 / (ratio * (ratio - load))


class Use(FileModel):
    """Which engine speeds matter, in one of four ways: ranges; weights at speeds, straight between them;
    gears; or the log of a drive."""

    ranges: list[UseRange] | None = Field(None, description="list of ranges, each with a weight")
    speeds: list[Speed] | None = Field(None, description="at which weights are given")
    weights: list[Weight] | None = Field(None, description="at those speeds, straight between them")
    gears: Gears | None = Field(None, description="acceleration through the gears")
    log: str | None = Field(None, description="CSV file with a column of engine speeds, as logged in use")
    column: str | None = Field(None, description="its heading; left out: the one that names rpm")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        # What a log holds was made into ranges when it was read (drive_log.py).
        ways = [None if self.log else self.ranges, self.speeds, self.gears, self.log]
        if sum(w is not None for w in ways) != 1 or (self.column is not None and self.log is None):
            raise ValueError("give one of: ranges; speeds and weights; gears; log (and its column)")
        if (self.speeds is None) != (self.weights is None):
            raise ValueError("speeds and weights go together")
        if self.speeds is not None:
            n, w = self.speeds, required(self.weights)
            if len(n) != len(w) or len(n) < 2 or any(b <= a for a, b in itertools.pairwise(n)):
                raise ValueError("speeds must rise, two or more, with as many weights")
        if not sum(0.5 * (wa + wb) * (b - a) for a, wa, b, wb in self.pieces()) > 0.0:
            raise ValueError("no speed has a weight")
        return self

    def pieces(self) -> Iterator[tuple[float, float, float, float]]:
        """(speed, weight, speed, weight) where each straight piece of the weight begins and ends, rev/min,
        rising; where ranges overlap their weights add."""
        if self.speeds is not None:
            pairs = list(zip(self.speeds, required(self.weights), strict=True))
            yield from ((*a, *b) for a, b in itertools.pairwise(pairs))
            return
        ranges = [(r.start, r.stop, r.weight) for r in self.ranges or ()]
        if self.gears is not None:
            ranges = list(self.gears.ranges())
        cuts = sorted({n for a, b, _ in ranges for n in (a, b)})
        for low, high in itertools.pairwise(cuts):
            weight = sum(w for a, b, w in ranges if a <= low and high <= b)
            if weight > 0.0:
                yield low, weight, high, weight
