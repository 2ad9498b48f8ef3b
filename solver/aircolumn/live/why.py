"""Why the curve is as it is at one speed: the sentences of ``explain`` and the wave in the runner."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from aircolumn.curves.tuning.explain import cause_at
from aircolumn.display_units import unit
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.output.explain.sentences import sentences
from aircolumn.output.tables import listed
from aircolumn.output.trace.page import cycle

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine

SHOWN = {
    "torque": ("Torque", "torque"),
    "power": ("power", "power"),
    "imep": ("IMEP", "mean pressure"),
    "pmep": ("PMEP", "mean pressure"),
    "fmep": ("FMEP", "mean pressure"),
    "residual": ("residual gas", "share"),
}


def why_at(engine: Engine, rpm: float) -> dict[str, Any]:
    """{said: sentences, wave: a cycle to be shown}. Raises ComputationError."""
    found, data = cause_at(engine, rpm)
    head = f"At {rpm:.0f} rpm VE is {unit('share').said(found.ve)}."
    return {"said": [head, _figures(engine, rpm), *sentences("hump", found)[1:]], "wave": cycle("", data)}


def _figures(engine: Engine, rpm: float) -> str:
    """Those of the point, on cells of the usual length."""
    figures = operating_point(engine, rpm).figures
    told = [f"{words} {unit(kind).said(figures[name])}" for name, (words, kind) in SHOWN.items()]
    return f"{listed(told)}."
