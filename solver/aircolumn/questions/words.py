"""Words of studies that every kind shares: varied keys, their headings, aims."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.display_units import unit
from aircolumn.questions.aims import KINDS

if TYPE_CHECKING:
    from aircolumn.questions.aims import Aim
    from aircolumn.study.axes import Axis
    from aircolumn.study.plan import Plan

#: {key: value with its unit as the file writes it} of one case
Values = dict[str, str | int | float]


def aim_text(aim: Aim, value: float) -> str:
    """A value of an aim with its unit."""
    own = unit(KINDS[aim.of])
    return f"{float(own.of(value)):.4g} {own.name}" if own.name else f"{value:.4f}"


def axis_heading(name: Any, written: str) -> str:
    """The heading of a varied key, in the unit it was written in."""
    return name if written in ("", "1") else f"{name} [{written}]"


def axis_heads(plan: Plan) -> list[str]:
    """The headings of all varied keys."""
    return [axis_heading(a.name, a.unit) for a in plan.axes]


def axis_scale(axis: Axis) -> dict:
    """A varied key as an axis of a chart."""
    return {"title": axis.said, "kind": None}


def plain_values(plan: Plan, row: Any) -> Values:
    """{key: value with its unit as the file writes it} of one case."""
    return {a.key: a.written(v) for a, v in zip(plan.axes, row, strict=True)}
