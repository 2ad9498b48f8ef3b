"""Charts as plain data (SI) for the page's script, which draws them in the units chosen there.

A chart is {id, label, x, y, traces, spans}: x and y are axes {title, kind}; kind names a quantity of
display_units.py, or is null where the values are shown as they are. A trace has a name, x and y, and
how it looks; one with z is a map of coloured contours (z: {title, kind, values}).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import KINDS, SETS
from aircolumn.output import STYLES

if TYPE_CHECKING:
    from aircolumn.curves.interest import Range
    from aircolumn.study.bands.verdict import Interval

DASHES = ("solid", "dash", "dashdot", "dot", "longdashdot")
MARKS = ("circle", "square", "triangle-up", "diamond", "triangle-down")
SPEED = {"title": "engine speed", "kind": "speed"}


def units() -> dict:
    """{kind: {set: [name, factor from SI, decimals, shift]}} for the script."""
    return {
        kind: {
            name: [u.name, u.factor, u.decimals, u.shift]
            for name, u in zip(SETS, (choices * len(SETS))[: len(SETS)], strict=True)
        }
        for kind, choices in KINDS.items()
    }


def known(values: Any) -> list:
    """Numbers for JSON: what could not be computed is null."""
    array = np.asarray(values, dtype=float).astype(object)
    array[~np.isfinite(array.astype(float))] = None
    return array.tolist()


def look(k: int) -> dict:
    """Colour, dash and mark of line ``k``, as on the plots."""
    return {
        "colour": STYLES[k % len(STYLES)]["color"],
        "dash": DASHES[(k + k // len(DASHES)) % len(DASHES)],
        "mark": MARKS[k % len(MARKS)] + ("-open" if k >= len(MARKS) else ""),
    }


def line(name: str, x: Any, y: Any, style: dict[str, str], mode: str = "lines+markers", **more: Any) -> dict:
    """A trace; more: error (half-widths), fill, thin (an edge of a
    band, not in the legend)."""
    return {"name": str(name), "x": known(x), "y": known(y), "mode": mode, **style, **more}


def band(name: str, x: Any, one: Interval, k: int, own: bool = False) -> list[dict]:
    """Line ``k``, of the middle of the cases or of the file's ``own`` engine, with the edges of its band."""
    style = look(k)
    edge = {"dash": "dot", "mark": "circle", "colour": style["colour"]}
    return [
        line(f"{name}, least", x, one.low, edge, "lines", thin=True),
        line(f"{name}, most", x, one.high, edge, "lines", thin=True, fill=True),
        line(name, x, one.own if own else one.middle, style),
    ]


def chart(
    name: str,
    label: str,
    y_title: str,
    kind: str,
    traces: Sequence[dict[str, Any]],
    x: dict[str, Any] = SPEED,
    span: Range | None = None,
) -> dict:
    """A chart of lines over engine speed, or over another axis ``x``."""
    return {
        "id": name,
        "label": label,
        "x": x,
        "y": {"title": y_title, "kind": kind},
        "traces": traces,
        "spans": span.spans if span else [],
    }


def chart_of_map(
    name: str,
    label: str,
    x: dict[str, Any],
    y: dict[str, Any],
    z_title: str,
    kind: str,
    trace: dict[str, Any],
) -> dict:
    """A chart of contours; trace: x, y and z, (y, x)."""
    return {
        "id": name,
        "label": label,
        "x": x,
        "y": y,
        "spans": [],
        "traces": [{**trace, "z": {"title": z_title, "kind": kind, "values": known(trace["z"])}}],
    }
