"""Measured traces from file to answer: read, cut into cycles, pegged, beside the model, explained, fitted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import unit
from aircolumn.errors import RequestError
from aircolumn.measured.traces.causes import CAUSES, PEG
from aircolumn.measured.traces.compare import Explained, Harmonic, Ringing, explained, harmonics, ringing
from aircolumn.measured.traces.cycles import Cycles, channels_of, cycles_of, unused
from aircolumn.measured.traces.dead_centre import DeadCentre, dead_centre, is_motored, peak_angle
from aircolumn.measured.traces.fit import TraceFit, TraceProblem, fit_traces
from aircolumn.measured.traces.pegging import level_of
from aircolumn.measured.traces.predicted import Predicted, predicted
from aircolumn.measured.traces.table import read_trace_table

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.traces import TraceChannel

TURN = 360.0  # deg: marks cannot tell a turn of compression from one of gas exchange
RINGS = ("runner", "port")
FAR = 3.0  # deg: angles so far off are put right before anything is compared


@dataclass(frozen=True, eq=False)
class TraceSession:
    """What was found. channels by name; cycles: pegged; levels: what was added to each channel (mean, spread
    between cycles), Pa; model: the prediction; dead_centre: where the trace is motored; rms: of the
    difference by channel, Pa (of a fired cylinder without combustion), and of the whole cycle; fit: if
    asked for; held: channels that took no part in it; motored: whether the engine was; top_dead_centre:
    as stated, deg; unused: columns of the
    file that nothing is made of, and why."""

    path: Path
    rpm: float
    channels: dict[str, TraceChannel]
    cycles: Cycles
    levels: dict[str, tuple[float, float]]
    model: Predicted
    dead_centre: DeadCentre | None
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

    @property
    def angle_first(self) -> bool:
        """Whether the file's angles are so far off that nothing can be compared yet."""
        return self.dead_centre is not None and abs(self.dead_centre.offset) > FAR


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
    cycles = cycles_of(table, engine.traces, rpm)
    speed = float(np.mean(cycles.rpm))
    _check_speed(speed, rpm)
    channels = {name: channel for name, (_, channel, _) in channels_of(table, engine.traces).items()}
    _check_names(hold, channels)
    causes = _causes(fit, channels, hold)
    cylinder = next((n for n, c in channels.items() if c.place == "cylinder"), None)
    model = predicted(engine, rpm, channels)
    cycles = _of_the_right_turn(cycles, model, cylinder)
    centre, motored = None, False
    if cylinder is not None:
        k = cycles.names.index(cylinder)
        alone = predicted(engine, rpm, channels, motored=True)
        motored = _motored(engine, cycles.readings[k], alone.signals[k], cylinder)
        if motored:
            model = alone
    cycles, levels = _pegged(cycles, channels, model)
    if cylinder is not None and motored:
        k = cycles.names.index(cylinder)
        centre = dead_centre(cycles.readings[k], model.signals[k])
    if centre is not None and abs(centre.offset) > FAR and causes:
        raise RequestError(
            f"the file's angles are {centre.offset:+.2f} deg too late: state traces.top_dead_centre:"
            f" {engine.traces.top_dead_centre + centre.offset:.2f} deg first, then fit"
        )
    _check_places(cycles, channels, model)
    _check_pressures(cycles, channels)
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
        problem.rms(cycles.mean - model.signals, whole=True),
        {n: harmonics(cycles.mean[k], model.signals[k]) for k, n in enumerate(cycles.names)},
        rings,
        explained(problem, model),
        _air_flow(engine),
        fit_traces(problem, causes, progress) if causes else None,
        tuple(hold),
        motored,
        engine.traces.top_dead_centre,
        unused(table, engine.traces),
    )


def _check_speed(measured: float, asked: float) -> None:
    if abs(measured / asked - 1.0) > 0.02:
        raise RequestError(
            f"the file was measured at {measured:.0f} rpm, --rpm says {asked:.0f}: a wave would come at"
            " another angle"
        )


#: Of absolute pressures, by place, Pa: what engines have at all.
POSSIBLE = {"cylinder": (1e3, 5e7)}
ELSEWHERE = (5e3, 2e6)
SWAPPED = 3.0  # times as far from the model's swings, both together


def _check_pressures(cycles: Cycles, channels: dict[str, TraceChannel]) -> None:
    """Raise RequestError for pressures that cannot be."""
    kpa = unit("pressure")
    for k, (name, channel) in enumerate(channels.items()):
        low, high = POSSIBLE.get(channel.place, ELSEWHERE)
        least, most = float(cycles.mean[k].min()), float(cycles.mean[k].max())
        possible = low <= least <= most <= high
        if channel.pegged.to == "absolute" and not possible:
            raise RequestError(
                f"{name}: absolute pressures from {kpa.said(least)} to {kpa.said(most)} cannot be: the unit"
                " is another, or the transducer measures changes alone (traces.channels: pegged)"
            )


def _check_places(cycles: Cycles, channels: dict[str, TraceChannel], model: Predicted) -> None:
    """Raise RequestError for two channels whose swings are each the other's."""
    measured, due = (np.log(np.maximum(np.std(s, axis=1), 1.0)) for s in (cycles.mean, model.signals))
    names = list(channels)
    for i in range(len(names)):
        for j in range(i):
            own = abs(measured[i] - due[i]) + abs(measured[j] - due[j])
            other = abs(measured[i] - due[j]) + abs(measured[j] - due[i])
            if own > 2.0 * np.log(SWAPPED) + other:
                raise RequestError(
                    f"{names[j]} and {names[i]} look swapped: each swings as the model does at the other's"
                    " place"
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


def _motored(engine: Engine, readings: np.ndarray, model: np.ndarray, name: str) -> bool:
    """Whether the engine was motored, as stated or as the cycles show. Raises RequestError if unclear."""
    stated = engine.traces.motored
    found = is_motored(readings, model) if stated is None else stated
    if found is None:
        raise RequestError(
            f"{name}: it is not clear whether the engine was motored or fired; state traces.motored: true"
            " or false"
        )
    return found


def _of_the_right_turn(cycles: Cycles, model: Predicted, cylinder: str | None) -> Cycles:
    """Turned by a whole turn if the cylinder's pressure is highest about gas exchange; without a cylinder, if
    the model's pressures are then nearer."""
    if cylinder is not None:
        top = peak_angle(cycles.mean[cycles.names.index(cylinder)])
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
