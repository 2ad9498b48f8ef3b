"""What direct injection gains in VE over port injection.

On one single-cylinder engine at stoichiometric mixture with unleaded gasoline, going from port to
direct injection raised volumetric efficiency by 9 % (Wyszynski, Stone & Kalghatgi, SAE
2002-01-0839, abstract). The classroom engine with the defaults, mean of speeds over its range: 6 to
10 %. The whole latent heat of the fuel would cool a stoichiometric charge by some 24 K.
"""

import numpy as np

from aircolumn import load
from validation.check import Check
from validation.engine_sweeps import CLASSROOM, figures

SPEEDS = np.arange(1500.0, 5501.0, 500.0)


def gains() -> np.ndarray:
    """VE with direct over VE with port injection, less 1, at each speed."""
    engine = load(CLASSROOM).engine
    port, direct = figures([with_delivery(engine, d) for d in ("port", "direct")], SPEEDS)
    return direct / port - 1.0


def with_delivery(engine, delivery):
    """At lambda 1."""
    mixture = engine.mixture.changed(relative_air_fuel_ratio=1.0, air_fuel_ratio=None, delivery=delivery)
    return engine.changed(mixture=mixture)


def checks():
    """The mean gain."""
    mean = float(gains().mean())
    return [
        Check(
            "port to direct",
            "gain in VE, mean of 9 speeds",
            0.08,
            mean,
            0.02,
            "SAE 2002-01-0839, abstract",
            "absolute",
        )
    ]


def draw(axes):
    """Gain against speed."""
    axes.plot(SPEEDS, 100.0 * gains(), "ko-", mfc="none", label="computed")
    axes.axhline(9.0, color="k", ls="--", lw=1, label="measured on one engine")
    axes.set(
        xlabel="engine speed, rev/min",
        ylabel="gain in VE, %",
        ylim=(0, 12),
        title="Direct instead of port injection",
    )
    axes.legend()
