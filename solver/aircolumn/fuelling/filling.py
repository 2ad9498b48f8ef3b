"""Filling as a control unit's table has it: all the air that is drawn in, over what a reference would hold.

A wide-band probe sees all the air that goes through the engine, also what is lost in overlap; so does a table
that was tuned with one. With m the fresh air through the intake valve in a cycle, kg a cylinder, Vs the swept
volume of one, and Ra the gas constant of the (moist) air:

    manifold    m Ra Tm / (pm Vs)      pm, Tm: mean pressure and temperature of the gas in the plenum; what
                                       fuel vapour or burned gas take up of pm there counts as air
    fresh       m / (rm Vs)            rm: density of the fresh air alone in the plenum
    ambient     m Ra T0 / (p0 Vs)      p0, T0: of the air outside
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine

WORDS = {
    "manifold": "air at the manifold's mean pressure and temperature",
    "fresh": "the fresh air alone that is in the plenum",
    "ambient": "the air outside",
}


def filling_of(figures: dict[str, np.ndarray], engine: Engine, referred_to: str) -> np.ndarray:
    """Filling by one of WORDS, of figures (point_figures.py) in arrays of one shape."""
    drawn = figures["ve_delivered"]
    if referred_to == "ambient":
        return drawn
    if referred_to == "fresh":
        return figures["ve_plenum"] * drawn / figures["ve"]
    air = engine.intake.ambient
    thinner = air.pressure * figures["plenum_temperature"] / (air.temperature * figures["plenum_pressure"])
    return drawn * thinner


def air_of(figures: dict[str, np.ndarray], engine: Engine, rpm: np.ndarray) -> np.ndarray:
    """Air drawn in by a cylinder in a cycle, kg; rpm: rev/min, of the same shape."""
    return figures["air_flow"] / (rpm / 120.0 * engine.block.cylinders)
