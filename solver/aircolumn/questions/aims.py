"""What makes one curve better than another."""

from typing import Annotated, Literal, Self, TypeVar, get_args

import numpy as np
from pydantic import Field, model_validator

from aircolumn.curves.interest import Range
from aircolumn.engine.description.base import FileModel, plain_number, required
from aircolumn.engine.description.quantities import Speed
from aircolumn.errors import RequestError

AimName = Literal[
    "mean_torque",
    "mean_power",
    "torque",
    "power",
    "peak_torque",
    "peak_power",
    "least_torque",
    "flatness",
]
POINTED, MEANS = ("torque", "power"), ("mean_torque", "mean_power")
RANGED = (*MEANS, "least_torque", "flatness")

#: aim: kind of quantity (display_units.py)
KINDS = {
    "mean_torque": "torque",
    "mean_power": "power",
    "torque": "torque",
    "power": "power",
    "peak_torque": "torque",
    "peak_power": "power",
    "least_torque": "torque",
    "flatness": "number",
}
AIMS = get_args(AimName)
#: kind of quantity, of limits too (search/limits.py): its SI unit
SI = {"torque": "N m", "power": "W", "number": "1", "velocity": "m/s", "length": "m", "part mass": "kg"}
SI_UNITS = {aim: SI[kind] for aim, kind in KINDS.items()}


class OfCurve(FileModel):
    """One figure of a torque curve: which (``of``, in AIMS), and at which speeds.

    mean_torque, mean_power: over a range, weighted by use where speeds and weights are given; least_torque:
    of a range; torque, power: at one speed; peak_torque, peak_power; flatness: least over greatest torque of
    a range.
    """

    of: str
    at: Speed | None = None
    start: Speed | None = Field(default=None, alias="from")
    stop: Speed | None = Field(default=None, alias="to")
    speeds: list[Speed] | None = None
    weights: list[Annotated[float, plain_number(0.0, 1e6)]] | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if (self.of in POINTED) != (self.at is not None) and self.of in AIMS:
            raise ValueError("'at' belongs to torque and power, which need it")
        if (self.start is None) != (self.stop is None) or (self.start is not None and self.of not in RANGED):
            raise ValueError(f"'from' and 'to' go together, with {', '.join(RANGED)}")
        if self.start is not None and required(self.stop) <= self.start:
            raise ValueError("'to' must be above 'from'")
        if (self.speeds is None) != (self.weights is None):
            raise ValueError("speeds and weights go together")
        if self.speeds is not None and self.weights is not None:
            rising = all(b > a for a, b in zip(self.speeds, self.speeds[1:], strict=False))
            same = len(self.speeds) == len(self.weights) >= 2
            if not (rising and same and sum(self.weights) > 0.0 and self.of in MEANS):
                raise ValueError(
                    "speeds must rise, with as many weights, not all 0, for mean_torque or mean_power"
                )
        return self

    @property
    def needed(self) -> list[float]:
        """Speeds that it is read at, rev/min, beside those between."""
        return [v for v in (self.at, self.start, self.stop) if v is not None]

    @property
    def words(self) -> str:
        """In words."""
        name = self.of.replace("_", " ")
        if self.at is not None:
            return f"{name} at {self.at:.0f} rpm"
        if self.start is not None:
            weighted = ", weighted by use" if self.speeds is not None else ""
            return f"{name} from {self.start:.0f} to {self.stop:.0f} rpm{weighted}"
        return name


class Aim(OfCurve):
    """What is to be as great as possible."""

    of: AimName = "mean_torque"


Figured = TypeVar("Figured", bound=OfCurve)


def check_aim(aim: Figured, speeds: np.ndarray, interest: Range | None) -> Figured:
    """The aim with its range filled in. Raises RequestError where the speeds do not cover it.

    interest: the engine file's range that matters, or None.
    """
    if aim.of in RANGED and aim.start is None:
        if aim.speeds is not None:
            start, stop = aim.speeds[0], aim.speeds[-1]
        elif interest is not None:
            start, stop = interest.start, interest.stop
            if aim.of in MEANS and (not interest.alike or len(interest.spans) > 1):
                at, weights = interest.as_lines()
                aim = aim.changed(speeds=at, weights=weights)
        else:
            start, stop = speeds[0], speeds[-1]
        aim = aim.changed(start=start, stop=stop)
    if aim.of in MEANS and len(speeds) < 2:
        raise RequestError(f"a mean needs two or more speeds, the study has {len(speeds)}")
    for rpm in aim.needed if aim.of in AIMS else ():
        if not speeds[0] <= rpm <= speeds[-1]:
            raise RequestError(
                f"the aim needs {rpm:.0f} rpm, the study computes {speeds[0]:.0f} to {speeds[-1]:.0f} rpm"
            )
    return aim


def value_of(aim: OfCurve, rpm: np.ndarray, torque: np.ndarray) -> float:
    """The aim's value for a torque curve (N m over rev/min), SI; NaN if a point it needs failed.

    Means are over engine speed, weighted (straight lines between the weights) where asked.
    """
    power = torque * rpm * np.pi / 30.0
    values = power if aim.of.endswith("power") else torque
    if aim.of in POINTED:
        return float(np.interp(required(aim.at), rpm, values))
    if aim.of.startswith("peak"):
        return float(np.max(values))
    start, stop = required(aim.start), required(aim.stop)
    if aim.of in ("flatness", "least_torque"):
        inside = np.concatenate([np.interp([start, stop], rpm, torque), torque[(rpm > start) & (rpm < stop)]])
        return float(inside.min() / inside.max() if aim.of == "flatness" else inside.min())
    if aim.speeds is None:
        return Range.between(start, stop).mean(rpm, values)
    weighted = required(Range.lines(aim.speeds, required(aim.weights)).within(start, stop))
    return weighted.mean(rpm, values)
