"""Sudden changes of bore, in words."""

from __future__ import annotations

from math import pi, sqrt
from typing import TYPE_CHECKING

from aircolumn.display_units import said_bore, unit
from aircolumn.flow.duct.division import sudden_changes

if TYPE_CHECKING:
    from aircolumn.flow.duct.geometry import Shape


def change_lines(shape: Shape, before: float = 0.0) -> list[str]:
    """The sudden changes of bore in a pipe run and their losses; before: air before it, m."""
    return [
        f"  {unit('length').said(c.position - before)} from its beginning the bore goes from"
        f" {_bore(c.before)} to {_bore(c.after)} in one step: narrowing loses"
        f" {max(c.loss_forward, c.loss_back):.2f} of the head in the narrow bore (Crane TP-410),"
        f" widening {(1.0 - c.throat / max(c.before, c.after)) ** 2:.2f} (Borda-Carnot)"
        for c in sudden_changes(shape)
    ]


def _bore(area: float) -> str:
    """Bore of a round area, m2, in words."""
    return said_bore(sqrt(4.0 * area / pi))
