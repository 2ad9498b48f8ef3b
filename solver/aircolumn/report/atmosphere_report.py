"""A torque or power by every atmosphere standard."""

from aircolumn.dyno.atmosphere import STANDARDS, STATEMENTS, convert, factor, warnings
from aircolumn.report.tables import grid


def atmosphere_table(value: float, unit: str, stated: str, air) -> str:
    """A torque or power as every standard states it, with factors and what is outside a range."""
    lines, notes = [], []
    for name in STATEMENTS:
        title, reference = name, "as the brake felt it"
        if name in STANDARDS:
            title, reference = STANDARDS[name].title, STANDARDS[name].reference
            notes += warnings(name, air)
        shown = f"{convert(value, stated, name, air):.5g} {unit}"
        lines.append([name, title, reference, f"{factor(name, air):.5f}", shown])
    head = (
        f"{1e-3 * air.pressure:.2f} kPa, {air.temperature - 273.15:.1f} degC,"
        f" {100 * air.humidity:.0f} % humidity: vapour {1e-3 * air.vapour_pressure:.3f} kPa,"
        f" dry air {1e-3 * air.dry_pressure:.3f} kPa\n"
    )
    table = grid(["name", "standard", "reference state", "factor", "value"], lines)
    return "\n".join([head + table, *(f"outside the range: {n}" for n in notes)])
