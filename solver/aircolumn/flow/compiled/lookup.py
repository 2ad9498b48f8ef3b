"""Crank angles within a cycle, and tables over it."""

import numpy as np

from aircolumn.flow.compiled.decorators import inlined

TABLE_STEPS = 2880  # quarter degrees over 720


@inlined
def within_cycle(angle):
    """``angle`` in degrees brought into 0 to 720 (the remainder operator is a slow call)."""
    return angle - 720.0 * np.floor(angle * (1.0 / 720.0))


@inlined
def table_value(table, row, angle):
    """Linear interpolation in a periodic table of TABLE_STEPS + 1 values over 720 degrees."""
    x = within_cycle(angle) * (TABLE_STEPS / 720.0)
    i = min(int(x), TABLE_STEPS - 1)
    return table[row, i] + (x - i) * (table[row, i + 1] - table[row, i])
