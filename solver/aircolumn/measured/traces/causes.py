"""What may stand between a measured trace and the model's: each as a change of the model or of the
readings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from aircolumn.engine.description.base import required
from aircolumn.measured.calibration import UNKNOWNS

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.pipes import Pipe


@dataclass(frozen=True)
class FaultKind:
    """meaning; kind of quantity (display_units.py); neutral value; step of differences (SI; so large that
    the model's own roughness, cells that come and go, does not show in them); plausible: half of its range;
    apply: to an engine (None: the readings' own); settle: what would settle it."""

    meaning: str
    kind: str
    neutral: float
    step: float
    plausible: float
    apply: Callable | None
    settle: str


def _stretched(pipe: Pipe, by: float) -> Any:
    """A pipe ``by`` m longer."""
    if pipe.sections is None:
        return pipe.changed(length=required(pipe.length) + by, lengths=None)
    factor = 1.0 + by / pipe.total_length
    sections = [s.changed(length=factor * s.length) for s in pipe.sections]
    return pipe.changed(sections=sections)


def _longer(engine: Engine, by: float) -> Engine:
    return engine.with_intake(runner=engine.intake.runner.each(lambda p: _stretched(p, by)))


def _damped(engine: Engine, factor: float) -> Engine:
    def rougher(pipe: Any) -> Any:
        return pipe.changed(friction_factor=factor * pipe.friction_factor)

    i = engine.intake
    return engine.with_intake(runner=i.runner.each(rougher), port=i.port.each(rougher))


def _leaky(engine: Engine, factor: float) -> Engine:
    area = min(max(factor, 0.0) * engine.rings.area(engine.block.bore), MOST_LEAK)
    return engine.changed(rings=engine.rings.changed(leak_area=area))


def _compressed(engine: Engine, by: float) -> Engine:
    ratio = engine.block.compression_ratio + by
    return engine.changed(block=engine.block.changed(compression_ratio=ratio))


def _cylinder_heat(engine: Engine, factor: float) -> Engine:
    walls = engine.cylinder_walls
    return engine.changed(cylinder_walls=walls.changed(factor=factor * walls.factor))


TDC, PEG, GAIN = "tdc", "peg", "gain"
BURN = "burn"  # ca50, duration_10_90, ca50_scatter: by heat release, not by least squares
OF_CHANNELS = (PEG, GAIN)  # each channel has its own: ``peg NAME``
IN_CYLINDER = ("heat", "leak", "compression")  # told by a pressure in the cylinder alone
LEAST_FACTOR = 0.05
MOST_LEAK = 20e-6  # m2, of an engine file
#: by name, as --fit takes them
CAUSES = {
    "length": FaultKind(
        "runner longer by", "length", 0.0, 0.004, 0.12, _longer, "measure the runner along its centre line"
    ),
    "temperature": FaultKind(
        "walls of runner and port warmer by",
        "temperature difference",
        0.0,
        8.0,
        40.0,
        UNKNOWNS["walls"].apply,
        UNKNOWNS["walls"].measure,
    ),
    "timing": FaultKind(
        UNKNOWNS["cam"].meaning, "angle", 0.0, 1.5, 8.0, UNKNOWNS["cam"].apply, UNKNOWNS["cam"].measure
    ),
    "damping": FaultKind(
        "wall friction of runner and port times",
        "number",
        1.0,
        0.3,
        1.0,
        _damped,
        "feel the walls' roughness",
    ),
    "discharge": FaultKind(
        UNKNOWNS["discharge"].meaning,
        "number",
        1.0,
        0.03,
        0.15,
        UNKNOWNS["discharge"].apply,
        UNKNOWNS["discharge"].measure,
    ),
    "heat": FaultKind(
        "heat to the cylinder's walls times", "number", 1.0, 0.1, 0.5, _cylinder_heat, "motor the engine"
    ),
    "leak": FaultKind(
        "leak past the rings times", "number", 1.0, 3.0, 9.0, _leaky, "test for leakage, or motor the engine"
    ),
    "compression": FaultKind(
        "compression ratio higher by",
        "number",
        0.0,
        0.1,
        1.0,
        _compressed,
        "measure the clearance volume with a burette",
    ),
    TDC: FaultKind(
        "top dead centre of the file too late by",
        "angle",
        0.0,
        0.5,
        3.0,
        None,
        "log a motored cylinder pressure",
    ),
    PEG: FaultKind(
        "level of a channel too low by", "pressure", 0.0, 1e3, 1e4, None, "peg it by another transducer"
    ),
    GAIN: FaultKind(
        "what a channel shows is what there is times",
        "number",
        1.0,
        0.02,
        0.2,
        None,
        "calibrate the transducer and its amplifier",
    ),
}


def cause_of(name: str) -> FaultKind:
    """Of CAUSES; what each channel has of its own is called ``peg NAME``, ``gain NAME``."""
    return CAUSES[name.partition(" ")[0]]


def at_least(name: str, value: float) -> float:
    """A value, of a factor no less than what a model can be marched with."""
    neutral = cause_of(name).neutral
    return max(value, LEAST_FACTOR * neutral) if neutral > 0.0 else value


def with_causes(engine: Engine, values: dict[str, float]) -> Engine:
    """The engine with the causes that concern it, SI."""
    for name, value in values.items():
        cause = cause_of(name)
        if cause.apply is not None and value != cause.neutral:
            engine = cause.apply(engine, value)
    return engine
