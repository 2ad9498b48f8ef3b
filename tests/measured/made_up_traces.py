"""Invented traces of an engine with hidden faults: noise that lasts along a cycle, slow drift of the level,
wrong top dead centre, wrong levels."""

from aircolumn.engine.description.traces import TraceChannel
from aircolumn.measured.traces.cycles import Cycles
from aircolumn.measured.traces.invented_traces import invented_cycles

CHANNELS = {
    "p cyl": TraceChannel.model_validate({"place": "cylinder"}),
    "p port": TraceChannel.model_validate({"place": "port"}),
    "p runner": TraceChannel.model_validate({"place": "runner", "distance": "150 mm"}),
}


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
    return invented_cycles(engine, rpm, CHANNELS, faults, rng, count)
