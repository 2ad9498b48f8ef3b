"""``compare``: all runners of the file side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from aircolumn.commands import options
from aircolumn.commands.curve_files import curves_answer
from aircolumn.commands.options import option, switch
from aircolumn.commands.results import Answer
from aircolumn.curves.against import check_others, gains
from aircolumn.curves.choice import choice_of
from aircolumn.curves.curve import compare
from aircolumn.curves.switchable import all_switched
from aircolumn.display_units import percent
from aircolumn.output.check.inlet import choke_text
from aircolumn.output.curves.against import gains_text
from aircolumn.output.curves.answer import CurvesFound
from aircolumn.output.curves.choice import answer_lines
from aircolumn.output.curves.text import compare_table, computed_text, ledger_table, switched_text, verdict
from aircolumn.output.folders import folder_of
from aircolumn.output.tables import with_blank_line
from aircolumn.study.bands.kept import kept_bands

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True)
class Request(
    options.Ledgers,
    options.Corrected,
    options.ShownFigures,
    options.AskedSpeeds,
    options.Keeps,
    options.EngineFiles,
):
    """What ``compare`` is asked."""

    against: str | None = option(
        metavar="RUNNER", help="also show what every other runner gains and loses against this one"
    )
    uncertainty: bool = switch(
        "compute on three meshes and show the numerical uncertainty of VE (5 times slower)"
    )


def run(request: Request) -> Answer[CurvesFound]:
    """The curves of all runners."""
    description = request.read()
    engine = description.engine
    request.check_standard(engine)
    request.check_figures()
    speeds = request.asked(engine)
    if request.against is not None:
        options.check_candidate(description, request.against, request.file)
        check_others(description.runners, request.against)
    with request.progress() as progress:
        data = compare(description, speeds, progress, uncertainty=request.uncertainty)
    factor = request.correct(data, engine)
    manifolds = all_switched(description, data)
    found = [] if request.against is None else gains(data, request.against, engine.speeds)
    choice = choice_of(data, engine.speeds)
    texts = [
        *answer_lines(choice, data, kept_bands(description, folder_of(request.file, "bands")), request.file),
        factor,
        compare_table(data, request.figures),
        computed_text(data, engine.speeds) + "\n" + verdict(data, engine.speeds),
        gains_text(data, found) if found else "",
        with_blank_line(choke_text(data, engine)),
        *map(switched_text, manifolds),
        _uncertainty(data) if request.uncertainty else "",
        with_blank_line(ledger_table(data)) if request.verbose else "",
    ]
    return curves_answer(texts, data, description, "compare", manifolds, found)


def _uncertainty(data: xr.Dataset) -> str:
    worst = percent(float(data.ve_uncertainty.max()), ".2f")
    return f"numerical uncertainty of VE: at most {worst} (grid convergence index from three meshes)"
