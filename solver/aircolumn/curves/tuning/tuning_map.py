"""VE over engine speed and runner length or bore, beside the rules of thumb.

- Neck and volume: N = (60 sqrt(2) / (2 pi K)) c sqrt(A / (L V)) sqrt((r - 1)/(r + 1)), K 2.0 to 2.5
  (Engelman, ASME 73-WA/DGP-2, 1973, from memory): the runner's air as a plug on the cylinder's
  volume at mid-stroke. Falls as L^-1/2.
- Quarter wave: the shut runner rings at c/(4 L); with q swings in a cycle, N = 120 c/(4 L q) =
  30 c/(L q) (closed form; q: order of the resonance). Falls as 1/L.

L: runner, port and end correction; c: sound speed of the ambient air.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from aircolumn.constants import AIR_GAMMA
from aircolumn.curves.accuracy import with_chosen_cells
from aircolumn.curves.points import point_grid
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.curves.to_xarray import add_reasons, labelled_speeds
from aircolumn.engine.description.base import required
from aircolumn.engine.description.given import engine_of
from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.mixture import ambient_gas
from aircolumn.engine.model.piping import intake_piping
from aircolumn.engine.rules_of_thumb import NECK_K, mean_neck, neck_and_volume_speed, quarter_wave_speed
from aircolumn.errors import RequestError, no_such

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.pipes import PipePerCylinder
    from aircolumn.engine.description.reader import Description
    from aircolumn.protocols import ProgressCallback

ORDERS = (2, 3, 4, 5)
MEANINGS = {
    "ridge": "speed of the highest VE",
    "neck_and_volume": "speed by Helmholtz's neck and volume",
    "quarter_wave": "speed by the quarter wave",
    "acoustic_length": "runner, port and end correction",
}
STRAIGHT: dict[str, Any] = {"route": None, "sections": None}  # of a runner that was laid within a space


def with_length(engine: Engine | Description, length: float) -> Engine:
    """The engine with another length of runner; its bends are left out if it was laid within a space.

    Parameters
    ----------
    engine : Engine or Description
        Of a Description the engine of the file.
    length : float
        Of the runner, m: from 0.03 to 5.

    Returns
    -------
    Engine

    Raises
    ------
    RequestError
        For a length no runner has, and for runners in sections or along a route, whose length is not one
        number.

    Examples
    --------
    >>> import aircolumn
    >>> description = aircolumn.load("configs/classroom-single.yaml")
    >>> with_length(description, 0.42).intake.runner.length
    0.42
    """
    engine = engine_of(engine)
    _check_varied("length", [length])
    runner = engine.intake.runner
    if _has_sections(runner):
        raise RequestError(
            "a tuning map needs a runner given by length and bore, not by sections, route or sizes"
        )
    return engine.with_intake(
        runner=runner.each(lambda r: r.changed(length=length, lengths=None, **STRAIGHT))
    )


def _has_sections(pipe: PipePerCylinder) -> bool:
    """Whether the pipe of any cylinder is made of sections, and not laid with a length of its own."""
    parts = (pipe, *(pipe.by_cylinder or {}).values())
    return any(p.sections is not None and (p.length is None or p.sizes is not None) for p in parts)


def with_bore(engine: Engine | Description, bore: float) -> Engine:
    """The engine with a runner that ends with ``bore`` metres, its taper kept in proportion; the
    port begins as the runner ends. Raises RequestError as with_length."""
    engine = engine_of(engine)
    _check_varied("bore", [bore])
    intake = engine.intake
    if _has_sections(intake.runner) or _has_sections(intake.port):
        raise RequestError("a map over bore needs runner and port given by length and bore")
    old = required(intake.runner.bore)
    taper = old.changed(start=required(old.start) * bore / old.end, end=bore)
    port = intake.port.each(lambda p: p.changed(bore=p.bore.changed(start=None)))
    runner = intake.runner.each(lambda r: r.changed(bore=taper, **STRAIGHT))
    return engine.with_intake(runner=runner, port=port)


#: what can be varied: (what builds the engine, least and greatest value m, range in words)
VARIED = {
    "length": (with_length, 0.03, 5.0, "30 mm to 5 m"),
    "bore": (with_bore, 0.01, 0.2, "10 mm to 200 mm"),
}


def _check_varied(vary: str, values: ArrayLike) -> None:
    """Raise RequestError for sizes (m) that no runner has."""
    _, least, most, allowed = VARIED[vary]
    wrong = [x for x in np.atleast_1d(values) if not least <= x <= most]
    if wrong:
        raise RequestError(f"a runner {vary} of {wrong[0]:g} m: from {allowed} is expected")


def tuning_map(
    engine: Engine | Description,
    values: ArrayLike,
    rpm: ArrayLike | None = None,
    progress: ProgressCallback | None = None,
    workers: int | None = None,
    vary: str = "length",
) -> xr.Dataset:
    """VE over runner length or bore and speed, and the rules of thumb.

    Parameters
    ----------
    engine : Engine or Description
        Of a Description the engine of the file.
    values : array_like
        Lengths or bores, m; two or more.
    rpm, progress, workers
        As for ``curve``.
    vary : {"length", "bore"}
        Which; it also names the dimension.

    Returns
    -------
    xarray.Dataset
        ve (vary, rpm); ridge: speed of the highest VE at each value; neck_and_volume (k, value; Engelman
        1973, from memory) and quarter_wave (order, value), all rev/min; acoustic_length (value), m.

    Raises
    ------
    RequestError
        For values no runner has, and runners in sections.
    ComputationError
        If no point could be computed.
    """
    import xarray as xr

    engine = engine_of(engine)
    if vary not in VARIED:
        raise RequestError(no_such("size", vary, VARIED))
    build, values = VARIED[vary][0], np.unique(np.asarray(values, dtype=float))
    _check_varied(vary, values)
    if values.size < 2:
        raise RequestError(f"give two or more runner {vary}s")
    speeds = chosen_speeds(engine, rpm)
    engines, cells = with_chosen_cells([build(engine, float(x)) for x in values], speeds, workers)
    grid = point_grid(engines, speeds, progress, workers)
    data = xr.Dataset(coords={vary: values, "rpm": speeds, "k": list(NECK_K), "order": list(ORDERS)})
    data[vary].attrs = {"units": "m", "long_name": f"runner {vary}"}
    labelled_speeds(data)
    ve = grid.figure("ve")
    data["ve"] = ((vary, "rpm"), ve, {"units": "1", "long_name": "VE, ambient"})
    add_reasons(data, (vary, "rpm"), grid.reasons)
    data["ridge"] = (vary, [_peak_speed(speeds, row) for row in ve])
    _add_rules(data, vary, engines)
    data.attrs |= {"vary": vary, "title": engine.title, "cells": cells}
    return data


def _add_rules(data: xr.Dataset, vary: str, engines: Sequence[Engine]) -> None:
    """The rules' speeds for each engine, at the sound speed of the ambient air."""
    engine = engines[0]
    shapes = [intake_piping(e).shape for e in engines]
    data["acoustic_length"] = (vary, [s.length for s in shapes])
    air = engine.intake.ambient
    sound = sqrt(AIR_GAMMA * ambient_gas(engine).gas.Ra * air.temperature)
    swept, ratio = geometry_of(engine).swept, engine.block.compression_ratio
    neck = [
        [neck_and_volume_speed(1.0, mean_neck(s), swept, ratio, sound, k) for s in shapes] for k in NECK_K
    ]
    data["neck_and_volume"] = (("k", vary), np.array(neck))
    waves = [[quarter_wave_speed(s.length, sound, q) for s in shapes] for q in ORDERS]
    data["quarter_wave"] = (("order", vary), np.array(waves))
    for name, meaning in MEANINGS.items():
        data[name].attrs = {"units": "m" if name == "acoustic_length" else "rev/min", "long_name": meaning}
    data.attrs["sound_speed_m_s"] = sound


def _peak_speed(speeds: np.ndarray, row: np.ndarray) -> float:
    """Speed of the highest value, by the parabola through it and its neighbours."""
    if np.all(np.isnan(row)):
        return float("nan")
    k = int(np.nanargmax(row))
    if not 0 < k < len(speeds) - 1 or np.any(np.isnan(row[k - 1 : k + 2])):
        return float("nan")  # the hump lies outside the range computed, or beside a gap
    a, b, _ = np.polyfit(speeds[k - 1 : k + 2] - speeds[k], row[k - 1 : k + 2], 2)
    return float(speeds[k] - b / (2.0 * a))


def rule_errors(data: xr.Dataset) -> tuple[int | None, list[tuple[float, ...]]]:
    """How far the rules are from the ridge: (order of the quarter wave that fits best over all, or
    None without a ridge; rows of length or bore m, ridge rpm, K of the neck-and-volume rule that
    would fit, error of the quarter wave of that order)."""
    ridge = data.ridge.values
    off = data.quarter_wave.values / ridge - 1.0
    known = np.isfinite(ridge)
    best = int(np.argmin(np.abs(off[:, known]).mean(axis=1))) if known.any() else 0
    fits = data.neck_and_volume.values[0] * NECK_K[0] / ridge
    rows = zip(data[data.attrs["vary"]].values, ridge, fits, off[best], strict=True)
    return ORDERS[best] if known.any() else None, [tuple(map(float, row)) for row in rows]
