"""How sure the comparison is, on demand: bands of the engine as it stands on the page, saved or not."""

from __future__ import annotations

import tempfile
from typing import TYPE_CHECKING, Any

from aircolumn.curves.speeds import speeds_of
from aircolumn.output.bands.text import best_lines, next_lines
from aircolumn.study.bands.session import how_sure

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description
    from aircolumn.protocols import ProgressCallback


def unsure(description: Description, progress: ProgressCallback) -> dict[str, Any]:
    """{rpm, bands: {candidate: (low, high)}, N m, said}. progress may raise to give it up. Raises
    RequestError, ComputationError."""
    with tempfile.TemporaryDirectory() as folder:
        found = how_sure(description, speeds_of(description.engine), folder, progress=progress)
    verdict = found.verdict
    bands = {name: [one.low.tolist(), one.high.tolist()] for name, one in verdict.bands.items()}
    said = [*best_lines(verdict), *next_lines(found)] if verdict.against else next_lines(found)
    return {"rpm": verdict.rpm.tolist(), "bands": bands, "said": [line for line in said if line.strip()]}
