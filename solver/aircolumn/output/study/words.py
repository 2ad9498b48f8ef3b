"""Words of studies that every kind shares: varied keys, their headings, aims."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.display_units import unit
from aircolumn.output.plain import as_plain
from aircolumn.study.aims import KINDS

if TYPE_CHECKING:
    from aircolumn.study.axes import Axis
    from aircolumn.study.models import Aim
    from aircolumn.study.plan import Plan


def aim_text(aim: Aim, value: float) -> str:
    """A value of an aim with its unit."""
    own = unit(KINDS[aim.of])
    return f"{float(own.of(value)):.4g} {own.name}" if own.name else f"{value:.4f}"


def axis_words(axis: Axis) -> str:
    """A varied key and its unit in words."""
    steps = axis.key.replace("_", " ").split(".")
    named = " ".join(steps[1:] if steps[0] in ("intake", "exhaust") and len(steps) > 2 else steps)
    return f"{named}, {axis.unit}" if axis.unit else named


def axis_heading(name: Any, written: str) -> str:
    """The heading of a varied key, in the unit it was written in."""
    return name if written in ("", "1") else f"{name} [{written}]"


def axis_heads(plan: Plan) -> list[str]:
    """The headings of all varied keys."""
    return [axis_heading(a.name, a.unit) for a in plan.axes]


def axis_scale(axis: Axis) -> dict:
    """A varied key as an axis of a chart."""
    return {"title": axis_words(axis), "kind": None}


def plain_values(plan: Plan, row: Any) -> dict[str, Any]:
    """{key: value with its unit as the file writes it} of one case."""
    return {a.key: as_plain(a.written(v)) for a, v in zip(plan.axes, row, strict=True)}
