"""What all models of the engine file are made of."""

from typing import TypeVar

from pydantic import BaseModel, ConfigDict

from aircolumn.description.units import Checked

T = TypeVar("T")


class Part(BaseModel):
    """Base: unknown keys are errors; checked objects do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def changed(self, **changes):
        """A copy with some keys changed (SI values, not checked again)."""
        return self.model_copy(update=changes)


def given(value: T | None) -> T:
    """A key that may be left out where another takes its place, and here is known to be there."""
    assert value is not None
    return value


def plain_number(low: float, high: float) -> Checked:
    """For Annotated[float, ...]: a pure number between low and high."""

    def check(value):
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValueError(f"a plain number is due here, from {low:g} to {high:g}")
        if not low <= value <= high:  # false for NaN
            raise ValueError(f"{value} is out of range: must be from {low:g} to {high:g}")
        return float(value)

    return Checked(check, {"type": "number", "minimum": low, "maximum": high})


def whole_number(low: int, high: int) -> Checked:
    """For Annotated[int, ...]: a whole number between low and high."""

    def check(value):
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ValueError(f"a whole number is due here, from {low} to {high}, not {value!r}")
        return value

    return Checked(check, {"type": "integer", "minimum": low, "maximum": high})
