"""Invented traces: the model's pressures as transducers would have shown them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.signal import lfilter

from aircolumn.engine.description.given import engine_of, one_speed
from aircolumn.errors import RequestError, no_such
from aircolumn.measured.traces.causes import CAUSES, GAIN, OF_CHANNELS, PEG, TDC, with_causes
from aircolumn.measured.traces.cycles import AT, Cycles, channel_by_name
from aircolumn.measured.traces.predicted import predicted, turned

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description
    from aircolumn.engine.description.traces import TraceChannel

FIRST_LINE = (
    "# Invented: no engine was measured. Computed pressures of '{}' with hidden faults, noise\n"
    "# and drift added; {:.0f} rpm, {} cycles.\n"
)
USUAL = ("p cyl", "p port", "runner 150 mm")
NOISE, NOISE_IN_CYLINDER = 600.0, 3e3  # Pa, standard deviation
LASTING = 0.9  # correlation of the noise from one angle to the next
FROM_CYCLE_TO_CYCLE, DRIFT = 300.0, 500.0  # Pa: standard deviation of the level; over all cycles
EVERY = 2  # angle of AT is written: 1 deg
MOST_CYCLES = 1000


def invent_traces(
    path: str | Path,
    engine: Engine | Description,
    rpm: float,
    channels: Sequence[str] = USUAL,
    hidden: Mapping[str, float] | None = None,
    cycles: int = 8,
    noise: Mapping[str, float] | None = None,
    seed: Any = 0,
) -> None:
    """Write the pressures that transducers at such an engine would show: a CSV file over the crank angle that
    ``measure_traces`` takes, and that says it is invented.

    Parameters
    ----------
    path : str or Path
        The file to write.
    engine : Engine or Description
        What ran.
    rpm : float
        Speed, rev/min.
    channels : sequence of str
        Headings that say where each transducer is: "p cyl", "p port", "p plenum", "p exhaust", or a place in
        the runner by its distance from the mouth, as "runner 150 mm".
    hidden : dict, optional
        What is wrong with engine and readings, by the names that ``measure_traces`` fits, SI: length (m
        longer), temperature (walls, K warmer), timing (intake cam, deg later), damping, discharge, heat,
        leak (factors), compression (more by), tdc (angles of the file too large by, deg); of a channel "peg
        p port" (level too low by, Pa) and "gain p port" (factor).
    cycles : int
        How many, 1 to 1000.
    noise : dict, optional
        Standard deviation by channel, Pa; left out, 3 kPa in the cylinder and 0.6 kPa elsewhere. It lasts
        from angle to angle, and levels wander from cycle to cycle.
    seed : int or numpy.random.Generator
        Of the noise: the same seed, the same file.

    Raises
    ------
    RequestError
        For headings that name no place, unknown names in ``hidden``, too many cycles.
    ComputationError
        If the cycle does not repeat.
    """
    places = {name: _place(name) for name in channels}
    faults = dict(hidden or {})
    _check(faults, noise or {}, places, cycles)
    speed, rng = one_speed(rpm), np.random.default_rng(seed)
    made = invented_cycles(engine_of(engine), speed, places, faults, rng, cycles, noise)
    _write(Path(path), made, engine_of(engine).title)


def invented_cycles(
    engine: Engine,
    rpm: float,
    places: Mapping[str, TraceChannel],
    faults: Mapping[str, float],
    rng: np.random.Generator,
    count: int,
    noise: Mapping[str, float] | None = None,
) -> Cycles:
    """The cycles of such an engine as its transducers show them: g p(angle - t) - d + noise, as
    traces/fit.py has it."""
    model = predicted(with_causes(engine, dict(faults)), rpm, places)
    signals = turned(model.signals, faults.get(TDC, 0.0))
    readings = np.repeat(signals[:, None], count, axis=1)
    for k, (name, channel) in enumerate(places.items()):
        usual = NOISE_IN_CYLINDER if channel.place == "cylinder" else NOISE
        white = rng.normal(size=(count, AT.size))
        lasting = lfilter([1.0], [1.0, -LASTING], white, axis=1) * np.sqrt(1.0 - LASTING**2)
        drift = DRIFT * np.linspace(-0.5, 0.5, count)[:, None]
        levels = FROM_CYCLE_TO_CYCLE * rng.normal(size=(count, 1)) + drift
        readings[k] *= faults.get(f"{GAIN} {name}", 1.0)
        readings[k] += (noise or {}).get(name, usual) * lasting + levels - faults.get(f"{PEG} {name}", 0.0)
    return Cycles(list(places), readings, np.full(count, rpm))


def _place(heading: str) -> TraceChannel:
    found = channel_by_name(heading)
    if found is None:
        raise RequestError(
            f"'{heading[:40]}' names no place; say 'p cyl', 'p port', 'p plenum', 'p exhaust' or"
            " 'runner 150 mm'"
        )
    return found


def _check(
    faults: Mapping[str, float], noise: Mapping[str, float], places: Mapping[str, TraceChannel], cycles: int
) -> None:
    """Raise RequestError for what cannot be made."""
    of_channels = [f"{kind} {name}" for kind in OF_CHANNELS for name in places]
    known = [n for n in CAUSES if n not in OF_CHANNELS] + of_channels
    for name in faults:
        if name not in known:
            raise RequestError(no_such("fault", name, known))
    for name in noise:
        if name not in places:
            raise RequestError(no_such("channel", name, places))
    if not 1 <= cycles <= MOST_CYCLES:
        raise RequestError(f"cycles must be 1 to {MOST_CYCLES}")


def _write(path: Path, made: Cycles, title: str) -> None:
    count = made.count
    angles = np.concatenate([AT[::EVERY] + 720.0 * k for k in range(count)])
    columns = [readings[:, ::EVERY].ravel() / 1e3 for readings in made.readings]
    lines = [FIRST_LINE.format(title, made.rpm[0], count)]
    lines.append(",".join(["crank angle [deg]", *(f"{n} [kPa]" for n in made.names)]) + "\n")
    for angle, *row in zip(angles, *columns, strict=True):
        lines.append(",".join([f"{angle:g}", *(f"{v:.2f}" for v in row)]) + "\n")
    path.write_text("".join(lines))
