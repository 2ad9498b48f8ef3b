"""Invented traces of an engine with hidden faults: noise that lasts along a cycle, slow drift of the level,
wrong top dead centre, wrong levels."""

import numpy as np
from scipy.signal import lfilter

from aircolumn.engine.description.traces import TraceChannel
from aircolumn.measured.traces.causes import with_causes
from aircolumn.measured.traces.cycles import AT, Cycles
from aircolumn.measured.traces.predicted import predicted, turned

CHANNELS = {
    "p cyl": TraceChannel.model_validate({"place": "cylinder"}),
    "p port": TraceChannel.model_validate({"place": "port"}),
    "p runner": TraceChannel.model_validate({"place": "runner", "distance": "150 mm"}),
}
NOISE = {"p cyl": 3e3, "p port": 600.0, "p runner": 600.0}  # Pa
LASTING = 0.9  # correlation from one angle to the next
FROM_CYCLE_TO_CYCLE, DRIFT = 300.0, 500.0  # Pa: standard deviation of the level; over all cycles


def hidden(rng) -> dict:
    """Faults of an engine and of its readings, SI."""
    found = {
        "length": rng.uniform(-0.008, 0.008),
        "temperature": rng.uniform(-15.0, 15.0),
        "timing": rng.uniform(-3.0, 3.0),
        "heat": rng.uniform(0.85, 1.15),
        "leak": rng.uniform(0.5, 4.0),
        "compression": rng.uniform(-0.4, 0.4),
        "tdc": rng.uniform(-1.0, 1.0),
    }
    return found | {f"peg {name}": rng.uniform(-4e3, 4e3) for name in CHANNELS}


def cycles(engine, rpm, faults, rng, count=30) -> Cycles:
    """Cycles that such an engine would give."""
    model = predicted(with_causes(engine, faults), rpm, CHANNELS)
    signals = turned(model.signals, faults.get("tdc", 0.0))
    readings = np.repeat(signals[:, None], count, axis=1)
    for k, name in enumerate(CHANNELS):
        white = rng.normal(size=(count, AT.size))
        lasting = lfilter([1.0], [1.0, -LASTING], white, axis=1) * np.sqrt(1.0 - LASTING**2)
        drift = DRIFT * np.linspace(-0.5, 0.5, count)[:, None]
        levels = FROM_CYCLE_TO_CYCLE * rng.normal(size=(count, 1)) + drift
        readings[k] += NOISE[name] * lasting + levels - faults.get(f"peg {name}", 0.0)
    return Cycles(list(CHANNELS), readings, np.full(count, rpm))
