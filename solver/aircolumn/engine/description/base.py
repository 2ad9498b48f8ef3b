"""What all models of the engine file are made of."""

from typing import Any, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, model_validator

from aircolumn.engine.description.units import Checked
from aircolumn.errors import RequestError, no_such

T = TypeVar("T")
BY_CYLINDER = "by_cylinder"  # key of PerCylinder
RUNNERS, CANDIDATES = "runners", "candidates"  # sections of the file
GROUP, LIST = "a group", "a list"  # tags of what may be either; no key is called so


class FileModel(BaseModel):
    """Base: unknown keys are errors; checked objects do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def changed(self, **changes: Any) -> Any:
        """A copy with some keys changed (SI values, not checked again). Raises RequestError for a key that
        there is not."""
        for key in changes:
            if key not in type(self).model_fields:
                raise RequestError(no_such("key", key, type(self).model_fields))
        return self.model_copy(update=changes)


class PerCylinder(FileModel):
    """A part that every cylinder has. by_cylinder: those of the cylinders that differ, whole (the
    reader fills in what the file does not repeat)."""

    by_cylinder: dict[int, Self] | None = Field(None, description="keys that differ, by cylinder number")

    @model_validator(mode="before")
    @classmethod
    def _once(cls, data: dict[str, Any]) -> dict[str, Any]:
        differing = data.get(BY_CYLINDER) if isinstance(data, dict) else None
        parts = differing.values() if isinstance(differing, dict) else ()
        if any(isinstance(part, dict) and BY_CYLINDER in part for part in parts):
            raise ValueError("by_cylinder cannot stand inside by_cylinder")
        return data

    def of_cylinder(self, number: int) -> Self:
        """The part of cylinder ``number`` (1, 2, ...)."""
        return (self.by_cylinder or {}).get(number, self)

    def each(self, change: Any) -> Self:
        """With ``change`` made to it and to those that differ."""
        changed = change(self)
        if self.by_cylinder is None:
            return changed
        return changed.changed(by_cylinder={k: change(v) for k, v in self.by_cylinder.items()})


def required(value: T | None) -> T:
    """A key that may be left out where another takes its place, and here is known to be there."""
    assert value is not None
    return value


def plain_number(low: float, high: float) -> Checked:
    """For Annotated[float, ...]: a pure number between low and high."""

    def check(value: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValueError(f"a plain number is expected here, from {low:g} to {high:g}")
        if not low <= value <= high:  # false for NaN
            raise ValueError(f"{value} is out of range: must be from {low:g} to {high:g}")
        return float(value)

    return Checked(check, {"type": "number", "minimum": low, "maximum": high}, limits=lambda: (low, high))


def whole_number(low: int, high: int) -> Checked:
    """For Annotated[int, ...]: a whole number between low and high."""

    def check(value: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ValueError(f"a whole number is expected here, from {low} to {high}, not {value!r}")
        return value

    return Checked(check, {"type": "integer", "minimum": low, "maximum": high})
