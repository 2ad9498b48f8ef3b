"""The control unit's table in words, its answer first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import counted, percent, unit
from aircolumn.fuelling.at_load import MOST_RESIDUAL
from aircolumn.output.fuelling.asked_text import asked_lines, asked_table
from aircolumn.output.fuelling.words import (
    CAUTION,
    load_heading,
    load_words,
    referred_words,
    size_words,
)
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.fuelling.session import ControlTable

OTHER_FUELS = ("gasoline", "e10", "e85", "ethanol", "methanol")
MOST_LISTED = 12  # cells left as they are
BEYOND = "-"
LEAST_TRIM = 0.002  # of the mean, from which a trim is told


def fuelling_text(found: ControlTable, engine: Engine) -> str:
    """What changed, what can be reached, the table, the injectors, the caution."""
    parts = [
        f"Table of {found.name}: {size_words(found.at)}; VE of {referred_words(found.referred_to)}",
        *moved_lines(found),
        *asked_lines(found),
        *reach_lines(found),
        "",
        _cells(found),
        "",
        *asked_table(found),
        *_metered_lines(found, engine),
        *_trim_lines(found),
        found.cells,
        "",
        CAUTION,
    ]
    return "\n".join(parts)


def moved_lines(found: ControlTable) -> list[str]:
    """How many cells of the tuned table change, by how much and how surely."""
    m, tuned = found.moved, found.own.table
    if m is None or tuned is None:
        return []
    change = np.where(m.changed, m.ratio - 1.0, 0.0)
    most = np.unravel_index(int(np.argmax(np.abs(change))), change.shape)
    at = f"{found.at.rpm[most[0]]:.0f} rpm and {load_words(found.at, found.at.loads[most[1]])}"
    wide, alone = (float(np.nanmean(v)) for v in (m.doubt.ratio, m.doubt.alone))
    count = f"{counted(int(m.changed.sum()), 'cell')} of {change.size}"
    least, highest = (percent(float(v), "+.1f") for v in (change.min(), change.max()))
    said = (
        f"From the tuned table of {found.own.old} ({tuned.path.name}): {count} change, by {least} to"
        f" {highest}, most at {at}."
    )
    if m.left.any():
        said += f" {int(m.left.sum())} would change by less than is known of them and stay as they are."
    if m.beyond.any():
        said += f" {int(m.beyond.sum())} are out of reach of one manifold or the other and stay too."
    return [
        said,
        f"The change is known to {percent(wide, '.1f')}; the table of {found.name} without the tuned one"
        f" would be to {percent(alone, '.1f')} (half-widths of 95 of 100, over {m.doubt.cases} engines that"
        " the file's may be).",
        *_left_lines(found),
    ]


def _left_lines(found: ControlTable) -> list[str]:
    """The cells that are left as they are within doubt."""
    assert found.moved is not None
    cells = np.argwhere(found.moved.left)
    if not len(cells):
        return []
    said = [
        f"{found.at.rpm[i]:.0f} rpm/{load_words(found.at, found.at.loads[j])}" for i, j in cells[:MOST_LISTED]
    ]
    more = f" and {len(cells) - MOST_LISTED} more (fuelling.csv)" if len(cells) > MOST_LISTED else ""
    return [f"Left as they are: {', '.join(said)}{more}"]


def reach_lines(found: ControlTable) -> list[str]:
    """The highest manifold pressure at each end of the speeds, and cells beyond."""
    at, pressure = found.at, unit("pressure")
    top = at.open["plenum_pressure"]
    low, high = int(np.argmin(top)), int(np.argmax(top))
    lines = [
        f"Throttle wide open the manifold has {pressure.said(top[high])} at {at.rpm[high]:.0f} rpm and"
        f" {pressure.said(top[low])} at {at.rpm[low]:.0f} rpm"
    ]
    missing = int(np.sum(~at.reached))
    if missing:
        why = f"out of reach, or more than {percent(MOST_RESIDUAL, '.0f')} of the charge is burned gas"
        lines.append(f"{counted(missing, 'cell')} of {at.angle.size} are marked {BEYOND}: {why}")
    return lines


def _cells(found: ControlTable) -> str:
    """VE in per cent: the highest load on top."""
    at = found.at
    values = found.values
    load = unit("share" if at.by_opening else "pressure")
    rows = [
        [
            load.number(at.loads[j]),
            *(BEYOND if np.isnan(v) else f"{100.0 * v:.1f}" for v in values[:, j]),
        ]
        for j in range(len(at.loads))[::-1]
    ]
    return f"VE, %\n{fitted([load_heading(at), *(f'{n:.0f}' for n in at.rpm)], rows)}"


def _trim_lines(found: ControlTable) -> list[str]:
    """Fuel of each cylinder against the mean."""
    if found.trim is None:
        return []
    if np.nanmax(np.abs(found.trim)) < LEAST_TRIM:
        return [f"All cylinders draw alike within {percent(LEAST_TRIM, '.1f')}: none needs a trim", ""]
    heads = ["rpm", *(str(k + 1) for k in range(found.trim.shape[1]))]
    rows = [
        [f"{n:.0f}", *(BEYOND if np.isnan(v) else f"{round(100.0 * v, 1) + 0.0:+.1f}" for v in row)]
        for n, row in zip(found.at.rpm, found.trim, strict=True)
    ]
    return [f"Trim of each cylinder, % of the mean, throttle wide open\n{fitted(heads, rows)}", ""]


def _metered_lines(found: ControlTable, engine: Engine) -> list[str]:
    """The injectors at their worst cell, and what size other fuels need."""
    m, asked = found.metered, engine.fuelling.injectors
    if m is None or asked is None:
        return []
    (i, j), mass = m.worst, unit("mass")
    duty, most = m.duty[i, j], asked.most_duty
    lines = [
        f"Injectors: most duty {percent(duty, '.0f')} at {found.at.rpm[i]:.0f} rpm and"
        f" {load_words(found.at, found.at.loads[j])}: {mass.said(m.fuel[i, j])} a cycle and cylinder at"
        f" lambda {found.target[i, j]:.2f}, {1e3 * m.pulse[i, j]:.2f} ms"
    ]
    if duty > most:
        lines.append(f"That is more than {percent(most)}: they are too small")
    own = engine.mixture.stoichiometric_ratio
    sizes = []
    for fuel in OTHER_FUELS:
        named = engine.mixture.fuel.changed(name=fuel, carbon=None, hydrogen=None)
        size = m.size * own / engine.mixture.changed(fuel=named).stoichiometric_ratio
        sizes.append(f"{fuel} {6e4 * size:.0f} g/min")
    lines.append(f"Size at which {percent(most)} is not exceeded: {', '.join(sizes)}")
    return [*lines, ""]
