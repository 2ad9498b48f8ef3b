"""A torque or power by every atmosphere standard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from aircolumn.display_units import unit
from aircolumn.measured.atmosphere import STANDARDS, STATEMENTS, convert, factor, warnings
from aircolumn.output.tables import grid

if TYPE_CHECKING:
    from aircolumn.measured.atmosphere import Atmosphere


def atmosphere_table(value: float, written: str, stated: str, air: Atmosphere) -> str:
    """A torque or power as every standard states it, with factors and what is outside a range."""
    lines, notes = [], []
    for name in STATEMENTS:
        title, reference = name, "as measured"
        if name in STANDARDS:
            title, reference = STANDARDS[name].title, STANDARDS[name].reference
            notes += warnings(name, air)
        shown = f"{convert(value, stated, name, air):.5g} {written}"
        lines.append([name, title, reference, f"{factor(name, air):.5f}", shown])
    pressure = unit("pressure")
    head = (
        f"{pressure.said(air.pressure, 2)}, {unit('temperature').said(air.temperature)},"
        f" {unit('share').said(air.humidity, 0)} relative humidity: vapour"
        f" {pressure.said(air.vapour_pressure, 3)}, dry air {pressure.said(air.dry_pressure, 3)}\n"
    )
    table = grid(["name", "standard", "reference state", "factor", "value"], lines)
    return "\n".join([head + table, *(f"outside the range: {n}" for n in notes)])


@dataclass(frozen=True)
class ByStandard:
    """A torque or power by a standard, and the standard's factor."""

    factor: float
    value: float
    unit: str


def corrected(value: float, written: str, stated: str, air: Atmosphere) -> dict[str, ByStandard]:
    """A torque or power as every standard states it."""
    return {
        name: ByStandard(float(factor(name, air)), float(convert(value, stated, name, air)), written)
        for name in STATEMENTS
    }
