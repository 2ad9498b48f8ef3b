"""The engine file with what traces have shown of the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.engine.description.rewrite import rewritten
from aircolumn.measured.traces.causes import TDC, cause_of, with_causes

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description
    from aircolumn.measured.traces.fit import TraceFit

LENGTH = "length"


def traces_fitted_file(description: Description, measured: Engine, fit: TraceFit) -> str:
    """The file's text. A runner's length is that of the runner that was measured; the rest holds for all.
    What concerns the readings alone stands in the first line."""
    of_engine = {n: v for n, v in fit.values.items() if cause_of(n).apply is not None}
    plain = measured.intake.runner.sections is None
    if not plain:  # the pieces of a drawn runner are the user's
        of_engine.pop(LENGTH, None)

    def change(engine: Engine) -> Engine:
        same = engine.intake.runner == measured.intake.runner
        return with_causes(engine, {n: v for n, v in of_engine.items() if n != LENGTH or same})

    said = f"{description.path.name} with {', '.join(of_engine) or 'nothing'} fitted to traces"
    if TDC in fit.values:
        said += (
            f"; in their file top dead centre is {fit.values[TDC]:.2f} deg too late (traces.top_dead_centre)"
        )
    return rewritten(description, change, f"{said}; comments are in that file")
