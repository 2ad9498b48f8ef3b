"""Sudden changes of bore, in words."""

from math import pi, sqrt

from aircolumn.duct.division import sudden_changes


def change_lines(shape, before: float = 0.0) -> list[str]:
    """The sudden changes of bore in a pipe run and their losses; before: air before it, m."""
    return [
        f"  {1e3 * (c.position - before):.0f} mm from its beginning the bore goes from"
        f" {_bore(c.before):.1f} to {_bore(c.after):.1f} mm at once: narrowing loses"
        f" {max(c.loss_forward, c.loss_back):.2f} of the head in the narrow bore (Crane TP-410),"
        f" widening {(1.0 - c.throat / max(c.before, c.after)) ** 2:.2f} (Borda-Carnot)"
        for c in sudden_changes(shape)
    ]


def _bore(area: float) -> float:
    """Bore in mm of a round area in m2."""
    return 1e3 * sqrt(4.0 * area / pi)
