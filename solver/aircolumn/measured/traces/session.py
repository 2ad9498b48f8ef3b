"""Measured traces from file to answer: read, cut into cycles, pegged, beside the model, explained, fitted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.errors import RequestError
from aircolumn.measured.traces.causes import CAUSES, PEG
from aircolumn.measured.traces.compare import Explained, Harmonic, Ringing, explained, harmonics, ringing
from aircolumn.measured.traces.cycles import Cycles, channels_of, cycles_of
from aircolumn.measured.traces.dead_centre import DeadCentre, dead_centre, is_motored
from aircolumn.measured.traces.fit import TraceFit, TraceProblem, fit_traces
from aircolumn.measured.traces.pegging import level_of
from aircolumn.measured.traces.predicted import Predicted, predicted
from aircolumn.measured.traces.table import read_trace_table

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.traces import TraceChannel

TURN = 360.0  # deg: marks cannot tell a turn of compression from one of gas exchange
RINGS = ("runner", "port")


@dataclass(frozen=True, eq=False)
class TraceSession:
    """What was found. channels by name; cycles: pegged; levels: what was added to each channel (mean, spread
    between cycles), Pa; model: the prediction; dead_centre: where the trace is motored; rms: of the
    difference by channel, Pa; fit: if asked for; held: channels that took no part in it."""

    path: Path
    rpm: float
    channels: dict[str, TraceChannel]
    cycles: Cycles
    levels: dict[str, tuple[float, float]]
    model: Predicted
    dead_centre: DeadCentre | None
    rms: dict[str, float]
    harmonics: dict[str, list[Harmonic]]
    ringing: dict[str, Ringing]
    explained: list[Explained]
    air_flow: float | None
    fit: TraceFit | None
    held: tuple[str, ...]


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
    table = read_trace_table(Path(path))
    cycles = cycles_of(table, engine.traces, rpm)
    speed = float(np.mean(cycles.rpm))
    _check_speed(speed, rpm)
    channels = {name: channel for name, (_, channel, _) in channels_of(table, engine.traces).items()}
    _check_names(hold, channels)
    causes = _causes(fit, channels, hold)
    cylinder = next((n for n, c in channels.items() if c.place == "cylinder"), None)
    model = predicted(engine, rpm, channels)
    cycles = _of_the_right_turn(cycles, model)
    centre = None
    motored = cylinder is not None and is_motored(cycles.mean[cycles.names.index(cylinder)])
    if cylinder is not None and motored:
        model = predicted(engine, rpm, channels, motored=True)
        cycles = _of_the_right_turn(cycles, model)
        k = cycles.names.index(cylinder)
        centre = dead_centre(cycles.readings[k], model.signals[k])
    cycles, levels = _pegged(cycles, channels, model)
    problem = TraceProblem(engine, rpm, channels, cycles, tuple(hold), motored=motored)
    rings = {
        name: found
        for k, (name, channel) in enumerate(channels.items())
        if channel.place in RINGS
        and (found := ringing(cycles.mean[k], model.signals[k], model.events, rpm)) is not None
    }
    return TraceSession(
        Path(path),
        rpm,
        channels,
        cycles,
        levels,
        model,
        centre,
        problem.rms(cycles.mean - model.signals),
        {n: harmonics(cycles.mean[k], model.signals[k]) for k, n in enumerate(cycles.names)},
        rings,
        explained(problem, model),
        _air_flow(engine),
        fit_traces(problem, causes, progress) if causes else None,
        tuple(hold),
    )


def _check_speed(measured: float, asked: float) -> None:
    if abs(measured / asked - 1.0) > 0.02:
        raise RequestError(
            f"the file was measured at {measured:.0f} rpm, --rpm says {asked:.0f}: a wave would come at"
            " another angle"
        )


def _check_names(hold: Sequence[str], channels: dict[str, TraceChannel]) -> None:
    for name in hold:
        if name not in channels:
            raise RequestError(f"no channel '{name[:40]}'; there are: {', '.join(channels)}")
    if hold and len(set(hold)) == len(channels):
        raise RequestError("all channels are held out; leave one to fit")


def _causes(asked: Sequence[str], channels: dict[str, TraceChannel], hold: Sequence[str]) -> list[str]:
    """Causes by name, levels one by one. Raises RequestError."""
    found: list[str] = []
    for name in asked:
        if name not in CAUSES:
            raise RequestError(f"'{name[:40]}' cannot be fitted; there are: {', '.join(CAUSES)}")
        found += [f"{PEG} {c}" for c in channels if c not in hold] if name == PEG else [name]
    return list(dict.fromkeys(found))


def _of_the_right_turn(cycles: Cycles, model: Predicted) -> Cycles:
    """Turned by a whole turn if the model's pressures are then nearer."""

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
