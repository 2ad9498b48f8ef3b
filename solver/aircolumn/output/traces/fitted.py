"""The engine file with what traces have shown of the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.engine.description.rewrite import rewritten
from aircolumn.measured.traces.causes import BURN, TDC, cause_of, with_causes
from aircolumn.measured.traces.indicated import with_burn

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.description.reader import Description
    from aircolumn.measured.traces.session import TraceSession

LENGTH = "length"


def traces_fitted_file(description: Description, measured: Engine, session: TraceSession) -> str:
    """The file's text. A runner's length is that of the runner that was measured; the rest holds for all.
    What concerns the readings alone stands in the first line."""
    values = {} if session.fit is None else session.fit.values
    of_engine = {n: v for n, v in values.items() if cause_of(n).apply is not None}
    plain = measured.intake.runner.sections is None
    if not plain:  # the pieces of a drawn runner are the user's
        of_engine.pop(LENGTH, None)
    burn = session.burn

    def change(engine: Engine) -> Engine:
        same = engine.intake.runner == measured.intake.runner
        if burn is not None:
            engine = with_burn(engine, burn, session.rpm)
        return with_causes(engine, {n: v for n, v in of_engine.items() if n != LENGTH or same})

    names = [*([BURN] if burn is not None else []), *of_engine]
    said = f"{description.path.name} with {', '.join(names) or 'nothing'} fitted to traces"
    if TDC in values:
        said += f"; in their file top dead centre is {values[TDC]:.2f} deg too late (traces.top_dead_centre)"
    return rewritten(description, change, f"{said}; comments are in that file")
