"""What makes one curve better than another."""

from typing import Annotated, Literal, Self, get_args

import numpy as np
from pydantic import Field, model_validator

from aircolumn.curves.interest import Range
from aircolumn.engine.description.base import FileModel, plain_number, required
from aircolumn.engine.description.quantities import Speed
from aircolumn.errors import RequestError

AimName = Literal["mean_torque", "mean_power", "torque", "power", "peak_torque", "flatness"]
AIMS = get_args(AimName)

#: aim: kind of quantity (display_units.py)
KINDS = {
    "mean_torque": "torque",
    "mean_power": "power",
    "torque": "torque",
    "power": "power",
    "peak_torque": "torque",
    "flatness": "number",
}
SI_UNITS = {aim: {"torque": "N m", "power": "W", "number": "1"}[kind] for aim, kind in KINDS.items()}


class Aim(FileModel):
    """What is to be as great as possible.

    mean_torque, mean_power: over a range, weighted by use where speeds and weights are given;
    torque, power: at one speed; peak_torque; flatness: least over greatest torque of a range.
    """

    of: AimName = "mean_torque"
    at: Speed | None = None
    start: Speed | None = Field(default=None, alias="from")
    stop: Speed | None = Field(default=None, alias="to")
    speeds: list[Speed] | None = None
    weights: list[Annotated[float, plain_number(0.0, 1e6)]] | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        pointed, ranged = self.of in ("torque", "power"), self.of in AIMS[:2] + AIMS[5:]
        if pointed != (self.at is not None):
            raise ValueError("'at' belongs to torque and power, which need it")
        if (self.start is None) != (self.stop is None) or (self.start is not None and not ranged):
            raise ValueError("'from' and 'to' go together, with mean_torque, mean_power, flatness")
        if self.start is not None and required(self.stop) <= self.start:
            raise ValueError("'to' must be above 'from'")
        if (self.speeds is None) != (self.weights is None):
            raise ValueError("speeds and weights go together")
        if self.speeds is not None and self.weights is not None:
            rising = all(b > a for a, b in zip(self.speeds, self.speeds[1:], strict=False))
            same = len(self.speeds) == len(self.weights) >= 2
            if not (rising and same and sum(self.weights) > 0.0 and self.of in AIMS[:2]):
                raise ValueError(
                    "speeds must rise, with as many weights, not all 0, for mean_torque or mean_power"
                )
        return self


def check_aim(aim: Aim, speeds: np.ndarray, interest: Range | None) -> Aim:
    """The aim with its range filled in. Raises RequestError where the speeds do not cover it.

    interest: the engine file's range that matters, or None.
    """
    if aim.of in ("mean_torque", "mean_power", "flatness") and aim.start is None:
        if aim.speeds is not None:
            start, stop = aim.speeds[0], aim.speeds[-1]
        elif interest is not None:
            start, stop = interest.start, interest.stop
            if aim.of != "flatness" and (not interest.alike or len(interest.spans) > 1):
                at, weights = interest.as_lines()
                aim = aim.changed(speeds=at, weights=weights)
        else:
            start, stop = speeds[0], speeds[-1]
        aim = aim.changed(start=start, stop=stop)
    if aim.of in ("mean_torque", "mean_power") and len(speeds) < 2:
        raise RequestError(f"a mean needs two or more speeds, the study has {len(speeds)}")
    needed = [v for v in (aim.at, aim.start, aim.stop) if v is not None]
    for rpm in needed:
        if not speeds[0] <= rpm <= speeds[-1]:
            raise RequestError(
                f"the aim needs {rpm:.0f} rpm, the study computes {speeds[0]:.0f} to {speeds[-1]:.0f} rpm"
            )
    return aim


def value_of(aim: Aim, rpm: np.ndarray, torque: np.ndarray) -> float:
    """The aim's value for a torque curve (N m over rev/min), SI; NaN if a point it needs failed.

    Means are over engine speed, weighted (straight lines between the weights) where asked.
    """
    power = torque * rpm * np.pi / 30.0
    if aim.of in ("torque", "power"):
        return float(np.interp(required(aim.at), rpm, torque if aim.of == "torque" else power))
    if aim.of == "peak_torque":
        return float(np.max(torque))
    values = power if aim.of == "mean_power" else torque
    start, stop = required(aim.start), required(aim.stop)
    if aim.of == "flatness":
        inside = np.concatenate(
            [
                np.interp([start, stop], rpm, torque),
                torque[(rpm > start) & (rpm < stop)],
            ]
        )
        return float(inside.min() / inside.max())
    if aim.speeds is None:
        return Range.between(start, stop).mean(rpm, values)
    weighted = required(Range.lines(aim.speeds, required(aim.weights)).within(start, stop))
    return weighted.mean(rpm, values)


def aim_words(aim: Aim) -> str:
    """The aim in words."""
    name = aim.of.replace("_", " ")
    if aim.at is not None:
        return f"{name} at {aim.at:.0f} rpm"
    if aim.start is not None:
        weighted = ", weighted by use" if aim.speeds is not None else ""
        return f"{name} from {aim.start:.0f} to {aim.stop:.0f} rpm{weighted}"
    return name
