"""Traces with one fault of eight kinds each: does the program name the right one first, and does a fit of the
engine leave the engine file alone where the fault is not the engine's?

``python -m tests.measured.made_up_faults 60 0`` prints each that is named wrongly, and how many.
"""

import sys
from dataclasses import replace

import numpy as np
from tests.conftest import CLASSROOM
from tests.measured.made_up_traces import CHANNELS, cycles

import aircolumn
from aircolumn.errors import RequestError
from aircolumn.measured.traces.alone import ENOUGH, UNEVEN, explained, notes_of
from aircolumn.measured.traces.cycles import AT
from aircolumn.measured.traces.doubts import check_places
from aircolumn.measured.traces.fit import TraceProblem, fit_traces
from aircolumn.measured.traces.predicted import predicted
from aircolumn.output.traces.text import _plausible

RPM = 4000.0
KINDS = ("gain", "peg", "tdc", "swapped", UNEVEN, "length", "temperature", "another engine")
OF_READINGS = KINDS[:5]
FITTED = ["length", "temperature", "timing"]  # what a hurried user would fit


def with_fault(engine, kind, rng):
    """Cycles of channels, the angle by one mark a turn."""
    names = list(CHANNELS)
    channel = names[rng.integers(len(names))]
    sign = rng.choice([-1.0, 1.0])
    faults = {"length": 0.0}
    if kind == "gain":
        faults = {"length": 0.0}
    elif kind == "peg":
        faults = {f"peg {channel}": sign * rng.uniform(2e3, 8e3)}
    elif kind == "tdc":
        faults = {"tdc": sign * rng.uniform(0.5, 2.5)}
    elif kind == "length":
        faults = {"length": sign * rng.uniform(0.008, 0.06)}
    elif kind == "temperature":
        faults = {"temperature": sign * rng.uniform(10.0, 35.0)}
    source = another(engine, rng) if kind == "another engine" else engine
    made = cycles(source, RPM, faults, rng)
    readings = made.readings
    if kind == "gain":
        readings[names.index(channel)] *= 1.0 + sign * rng.uniform(0.03, 0.12)
    elif kind == "swapped":
        i, j = rng.choice(len(names), 2, replace=False)
        readings[[i, j]] = readings[[j, i]]
    elif kind == UNEVEN:  # speed that falls while the cylinder compresses, and turns of unlike length
        most, later = rng.uniform(0.8, 2.5), rng.uniform(-0.5, 0.5)
        th = np.radians(AT)
        error = sign * most * (np.sin(th) + later * np.sin(0.5 * th))
        for one in readings:
            one[:] = [np.interp(AT - error, AT, cycle, period=720.0) for cycle in one]
    return replace(made, readings=readings, marks_at=0.0)


def another(engine, rng):
    """An engine that differs in several ways at once."""
    block = engine.block.changed(compression_ratio=engine.block.compression_ratio + rng.uniform(0.4, 1.0))
    valve = engine.intake.valve.each(
        lambda v: v.changed(
            closes_abdc=v.closes_abdc + rng.uniform(8.0, 15.0), diameter=v.diameter * rng.uniform(0.88, 0.94)
        )
    )
    plenum = engine.intake.plenum.changed(volume=engine.intake.plenum.volume * rng.uniform(0.4, 0.6))
    return engine.changed(block=block).with_intake(valve=valve, plenum=plenum)


def named(problem, model):
    """The kind that is named first."""
    try:
        check_places(problem.cycles, CHANNELS, model)
    except RequestError as error:
        return "swapped" if "swapped" in str(error) else str(error)
    likely = [e for e in explained(problem, model, notes_of(problem, model)) if _plausible(e)]
    if not likely or likely[0].share < ENOUGH:
        return "another engine"
    return likely[0].cause.partition(" ")[0]


def writes_a_file(problem):
    """Whether a fit of the engine alone would be believed."""
    try:
        return fit_traces(problem, FITTED).doubtful is None
    except RequestError:
        return False


def trial(engine, model, seed):
    """(kind, what was named first, whether an engine file would be written)."""
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    problem = TraceProblem(engine, RPM, CHANNELS, with_fault(engine, kind, rng))
    first = named(problem, model)
    blamed = (
        first != "swapped" and (kind in OF_READINGS or kind == "another engine") and writes_a_file(problem)
    )
    return kind, first, blamed


def trials(count, seed=0):
    engine = aircolumn.load(CLASSROOM).engine
    model = predicted(engine, RPM, CHANNELS)
    return [(s, *trial(engine, model, s)) for s in range(seed, seed + count)]


if __name__ == "__main__":
    found = trials(int(sys.argv[1]), int(sys.argv[2]))
    for seed, kind, first, blamed in found:
        if kind != first or blamed:
            print(seed, kind, "named:", first, "engine file written" if blamed else "")
    print(sum(kind == first for _, kind, first, _ in found), "of", len(found), "named first;",
          sum(blamed for *_, blamed in found), "engine files")  # fmt: skip
