"""Measured traces from file to answer: read, cut into cycles, pegged, beside the model, explained, fitted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.errors import RequestError
from aircolumn.measured.traces.alone import Explained, explained, first_values, notes_of
from aircolumn.measured.traces.causes import BURN, CAUSES, OF_CHANNELS
from aircolumn.measured.traces.compare import Harmonic, Ringing, harmonics
from aircolumn.measured.traces.cycles import Cycles, channels_of, cycles_of, unused
from aircolumn.measured.traces.dead_centre import (
    DeadCentre,
    burns,
    by_compression,
    dead_centre,
    is_motored,
    peak_angle,
)
from aircolumn.measured.traces.doubts import (
    check_angles,
    check_names,
    check_places,
    check_pressures,
    check_speed,
)
from aircolumn.measured.traces.fit import TraceFit, TraceProblem, fit_traces
from aircolumn.measured.traces.heat_release import HeatRelease, heat_release
from aircolumn.measured.traces.indicated import Burn, Indicated, burn_of, indicated, with_burn
from aircolumn.measured.traces.pegging import level_of
from aircolumn.measured.traces.predicted import Predicted, predicted
from aircolumn.measured.traces.table import read_trace_table

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.traces import TraceChannel

TURN = 360.0  # deg: marks cannot tell a turn of compression from one of gas exchange
FAR, FAR_FIRED = 3.0, 10.0  # deg: angles so far off are put right before anything is compared


@dataclass(frozen=True, eq=False)
class OfCylinder:
    """What a cylinder's pressure says beyond its difference; release, burn: if it fires, or why not."""

    indicated: Indicated
    release: HeatRelease | None
    burn: Burn | None
    why_not: str = ""


@dataclass(frozen=True, eq=False)
class TraceSession:
    """What was found. channels by name; cycles: pegged; levels: what was added to each channel (mean, spread
    between cycles), Pa; model: the prediction; dead_centre: where the trace is motored; fired_offset: of a
    fired one, by how much its angles are too large and half-width, deg; rms: of the difference by channel, Pa
    (of a fired cylinder without combustion), and of the whole cycle; fit: if causes were asked for; held:
    channels that took no part in it; motored: whether the engine was; top_dead_centre: as stated, deg;
    unused: columns of the file that nothing is made of, and why; cylinder: if its pressure was measured;
    burn: that of the fitted file; fitted: the model's signals with what was fitted."""

    path: Path
    rpm: float
    channels: dict[str, TraceChannel]
    cycles: Cycles
    levels: dict[str, tuple[float, float]]
    model: Predicted
    dead_centre: DeadCentre | None
    fired_offset: tuple[float, float] | None
    rms: dict[str, float]
    rms_whole: dict[str, float]
    harmonics: dict[str, list[Harmonic]]
    ringing: dict[str, Ringing]
    explained: list[Explained]
    air_flow: float | None
    fit: TraceFit | None
    held: tuple[str, ...]
    motored: bool
    top_dead_centre: float
    unused: dict[str, str]
    cylinder: OfCylinder | None
    burn: Burn | None
    fitted: np.ndarray | None

    @property
    def angle_first(self) -> bool:
        """Whether the file's angles are so far off that nothing can be compared yet."""
        return self.offset is not None

    @property
    def offset(self) -> float | None:
        """By how much the file's angles are too large, deg, if that is far."""
        return _far_off(self.dead_centre, self.fired_offset)

    @property
    def doubtful(self) -> str | None:
        """Why an engine file of what was fitted would mislead; None if it would not."""
        return None if self.fit is None else self.fit.doubtful


def measure_traces(
    engine: Engine,
    path: str | Path,
    rpm: float,
    fit: Sequence[str] = (),
    hold: Sequence[str] = (),
    progress: Callable | None = None,
) -> TraceSession:
    """Lay measured pressures over the model's.

    Parameters
    ----------
    engine : Engine
        Its ``traces`` section says how the file is to be read.
    path : str or Path
        CSV, Parquet, HDF5, TDMS or MDF.
    rpm : float
        Speed, rev/min, where the file has no time.
    fit : sequence of str
        Causes to fit (measured.traces.causes.CAUSES); ``peg`` means the level of every channel.
    hold : sequence of str
        Channels kept out of the fit, to try it on.
    progress : callable, optional
        progress(done, total).

    Returns
    -------
    TraceSession

    Raises
    ------
    InputError
        If the file cannot be used.
    RequestError
        For causes that are none or cannot be told apart, and channels that are none.
    ComputationError
        If the model cannot be marched.
    """
    table = read_trace_table(Path(path), engine.traces.columns)
    found = channels_of(table, engine.traces)
    cycles = cycles_of(table, engine.traces, rpm, found)
    check_speed(float(np.mean(cycles.rpm)), rpm)
    channels = {name: channel for name, (_, channel, _) in found.items()}
    check_names(hold, channels)
    cylinder = next((k for k, c in enumerate(channels.values()) if c.place == "cylinder"), None)
    causes = _causes(fit, channels, hold)
    model = predicted(engine, rpm, channels)
    cycles = _of_the_right_turn(cycles, model, cylinder)
    motored = cylinder is not None and _motored(engine, rpm, channels, cycles.readings[cylinder], cylinder)
    if BURN in fit and (cylinder is None or motored):
        raise RequestError(f"'{BURN}' needs the pressure in a cylinder that fires")
    if motored:
        model = predicted(engine, rpm, channels, motored=True)
    cycles, levels = _pegged(cycles, channels, model)
    centre, fired_offset = _angles(cycles, model, cylinder, motored)
    off = _far_off(centre, fired_offset)
    if fit:
        check_angles(off, engine.traces.top_dead_centre)
    check_places(cycles, channels, model)
    check_pressures(cycles, channels)
    problem = TraceProblem(engine, rpm, channels, cycles, tuple(hold), motored=motored)
    notes = notes_of(problem, model)
    result, burn, fitted = None, None, None
    if causes:
        result = fit_traces(problem, causes, progress, first_values(problem, model, notes, causes))
        fitted = result.model
    if BURN in fit and cylinder is not None:
        burn, fitted = _with_burn(problem, {} if result is None else result.values, cylinder)
    return TraceSession(
        Path(path),
        rpm,
        channels,
        cycles,
        levels,
        model,
        centre,
        fired_offset,
        problem.rms(cycles.mean - model.signals),
        problem.rms(cycles.mean - model.signals, whole=True),
        {n: harmonics(cycles.mean[k], model.signals[k]) for k, n in enumerate(cycles.names)},
        notes,
        explained(problem, model, notes) if off is None else [],
        _air_flow(engine),
        result,
        tuple(hold),
        motored,
        engine.traces.top_dead_centre,
        unused(table, engine.traces, found),
        None if cylinder is None or off is not None else _of_cylinder(problem, model, cylinder),
        burn,
        fitted,
    )


def _of_cylinder(problem: TraceProblem, model: Predicted, k: int) -> OfCylinder:
    """Of the readings as they are."""
    pressures, due = problem.cycles.readings[k], model.signals[k]
    found = indicated(pressures, due, model.volume, model.events["exhaust_opens"])
    if problem.motored:
        return OfCylinder(found, None, None)
    try:
        release = heat_release(pressures, model.volume, model.charge)
    except RequestError as error:
        return OfCylinder(found, None, None, str(error))
    return OfCylinder(found, release, burn_of(problem.engine, release, problem.rpm, model.charge.stretch))


def _with_burn(problem: TraceProblem, values: dict[str, float], cylinder: int) -> tuple[Burn, np.ndarray]:
    """(the burn of the readings as they should be and of the engine as it was fitted, the model's signals
    with it as the file would show them)."""
    (model,) = problem.models([values])
    right = problem.corrected(values)[cylinder]
    release = heat_release(right, model.volume, model.charge)
    burn = burn_of(problem.engine, release, problem.rpm, model.charge.stretch)
    burning = replace(problem, engine=with_burn(problem.engine, burn, problem.rpm))
    return burn, burning.shown(burning.models([values])[0], values)


def _angles(
    cycles: Cycles, model: Predicted, cylinder: int | None, motored: bool
) -> tuple[DeadCentre | None, tuple[float, float] | None]:
    """Top dead centre by the cylinder's pressure: of a motored trace, or roughly of a fired one."""
    if cylinder is None:
        return None, None
    if motored:
        return dead_centre(cycles.readings[cylinder], model.signals[cylinder]), None
    return None, by_compression(cycles.mean[cylinder], model.signals[cylinder])


def _far_off(centre: DeadCentre | None, fired_offset: tuple[float, float] | None) -> float | None:
    """By how much the file's angles are too large, deg, if so much that nothing can be compared yet."""
    if centre is not None and abs(centre.offset) > FAR:
        return centre.offset
    if fired_offset is not None and abs(fired_offset[0]) > FAR_FIRED + fired_offset[1]:
        return fired_offset[0]
    return None


def _causes(asked: Sequence[str], channels: dict[str, TraceChannel], hold: Sequence[str]) -> list[str]:
    """Causes by name, those of channels one by one, without the burn. Raises RequestError."""
    found: list[str] = []
    for name in asked:
        if name not in CAUSES and name != BURN:
            raise RequestError(f"'{name[:40]}' cannot be fitted; there are: {', '.join([*CAUSES, BURN])}")
        of_channels = [f"{name} {c}" for c in channels if c not in hold]
        found += of_channels if name in OF_CHANNELS else [name] if name != BURN else []
    return list(dict.fromkeys(found))


def _motored(
    engine: Engine, rpm: float, channels: dict[str, TraceChannel], readings: np.ndarray, cylinder: int
) -> bool:
    """Whether the engine was motored, as stated or as the cycles show. Raises RequestError if unclear."""
    found = engine.traces.motored
    if found is None and burns(readings):
        return False
    if found is None:
        alone = predicted(engine, rpm, channels, motored=True).signals[cylinder]
        found = is_motored(readings, alone)
    if found is None:
        raise RequestError(
            f"{list(channels)[cylinder]}: it is not clear whether the engine was motored or fired; state"
            " traces.motored: true or false"
        )
    return found


def _of_the_right_turn(cycles: Cycles, model: Predicted, cylinder: int | None) -> Cycles:
    """Turned by a whole turn if the cylinder's pressure is highest about gas exchange; without a cylinder, if
    the model's pressures are then nearer."""
    if cylinder is not None:
        top = peak_angle(cycles.mean[cylinder])
        return cycles if abs(top) <= 0.5 * TURN else cycles.shifted(TURN)

    def distance(one: Cycles) -> float:
        rest = one.mean - one.mean.mean(axis=1, keepdims=True)
        due = model.signals - model.signals.mean(axis=1, keepdims=True)
        return float(np.sum(((rest - due) / due.std(axis=1, keepdims=True)) ** 2))

    return min((cycles, cycles.shifted(TURN)), key=distance)


def _pegged(
    cycles: Cycles, channels: dict[str, TraceChannel], model: Predicted
) -> tuple[Cycles, dict[str, tuple[float, float]]]:
    """Every cycle with its level set."""
    readings, levels = cycles.readings.copy(), {}
    for k, (name, channel) in enumerate(channels.items()):
        added = level_of(readings[k], channel.pegged, model.volume, model.signals[k])
        readings[k] += added[:, None]
        if channel.pegged.to != "absolute":
            levels[name] = (float(added.mean()), float(added.std(ddof=1)) if cycles.count > 1 else 0.0)
    return replace(cycles, readings=readings), levels


def _air_flow(engine: Engine) -> float | None:
    """Measured mean air flow, kg/s."""
    flow = engine.traces.mean_air_flow
    if flow is None:
        return None
    from aircolumn.engine.model.mixture import ambient_gas

    i = engine.intake.ambient
    return flow * i.pressure / (ambient_gas(engine).gas.Ra * i.temperature)
