"""The next manifold from the pull of the last, in words and as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import column_heading, percent, unit
from aircolumn.measured.atmosphere import title_of
from aircolumn.output.data_files import digits, write_rows
from aircolumn.output.tables import fitted

if TYPE_CHECKING:
    from pathlib import Path

    from aircolumn.study.bands.next_manifold import NextManifold


def next_sentences(n: NextManifold) -> list[str]:
    """What to expect, how surely, and what the pull was worth."""
    torque, k = unit("torque"), int(np.argmax(n.torque.own))
    low, high = torque.number(n.torque.low[k]), torque.number(n.torque.high[k])
    texts = [
        f"{n.name}, from the pull of {n.measured}: at most {torque.said(float(n.torque.own[k]))} at"
        f" {n.rpm[k]:.0f} rpm ({low} to {high} in 95 of 100 engines that fit the file), torque"
        f" {title_of(n.standard) if n.standard == 'observed' else f'at {title_of(n.standard)}'}.",
        f"The band is +-{percent(n.width, '.1f')} on average; from the engine file alone it would be"
        f" +-{percent(n.width_alone, '.1f')}. What the model has wrong about the engine is in both"
        " predictions and drops out.",
    ]
    if np.isnan(n.pulls).all():
        texts.append(
            f"{n.measured} was pulled once, so the scatter of the pulls is not in the band: repeat its pull."
        )
    texts.append("It holds on the same dyno: what its scale has wrong is in both torques.")
    return texts


def next_block(n: NextManifold) -> str:
    """Sentences and a table over the speeds."""
    torque = unit("torque")
    rows = [
        [
            f"{n.rpm[k]:.0f}",
            torque.number(n.torque.own[k]),
            torque.number(n.torque.low[k]),
            torque.number(n.torque.high[k]),
            f"{n.ratio.own[k]:.4f}",
            torque.number(n.alone.low[k]),
            torque.number(n.alone.high[k]),
        ]
        for k in range(len(n.rpm))
    ]
    heads = [
        "rpm",
        f"torque {torque.name}",
        "least",
        "most",
        f"over {n.measured}",
        "file alone: least",
        "most",
    ]
    title = f"{n.name}, predicted from the pull of {n.measured}"
    return "\n".join([title, *next_sentences(n), fitted(heads, rows)])


def write_next(n: NextManifold, path: Path) -> None:
    """The table as CSV."""
    torque = unit("torque")
    titles = (
        "torque",
        "torque, least",
        "torque, most",
        "from the file alone, least",
        "from the file alone, most",
    )
    columns = (n.torque.own, n.torque.low, n.torque.high, n.alone.low, n.alone.high)
    write_rows(
        path,
        ["runner", "rpm", *(column_heading(title, torque) for title in titles), f"over {n.measured}"],
        (
            [n.name, f"{rpm:.10g}", *(digits(torque.of(c[k]), 8) for c in columns), f"{n.ratio.own[k]:.8g}"]
            for k, rpm in enumerate(n.rpm)
        ),
    )
